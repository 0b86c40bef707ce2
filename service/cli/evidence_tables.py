"""The evidence for a fit on the terminal: in words, then in tables."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from plaitlog.service.cli.output import result, table

if TYPE_CHECKING:
    from plaitlog.models.calibration.evidence import Coverage, Evidence, Kind, Scores
    from plaitlog.models.calibration.ratio_evidence import RatioEvidence

HELD: "dict[Kind, str]" = {
    "whip": "whips",
    "rest": "rest of a whip",
    "cord": "cords",
    "maker": "makers",
}
SCORES = ("held out", "predicted by", "rms error", "median, mm", "in 50 %", "in 90 %", "log score")
COVERAGE = ("held out", "readings on", "readings", "in 50 %", "in 90 %")


def print_evidence(evidence: "Evidence", *, in_detail: bool = False) -> None:
    """The evidence in words, then the model beside its rivals on the same held-out readings.

    In detail also what the intervals hold by stack depth and by known and new cord.
    """
    for line in evidence.in_words().splitlines():
        result(line)
    result()
    table(SCORES, _scores(evidence), right=SCORES[2:])
    if in_detail:
        result()
        table(COVERAGE, _coverage(evidence), right=COVERAGE[2:])


def print_weighing(evidence: "Mapping[str, RatioEvidence]") -> None:
    """The evidence for weights, balance points and cord use, after an empty line, if there is any."""
    from plaitlog.models.calibration.whip_ratio_words import weighing_sentences

    if evidence:
        result()
    for line in weighing_sentences(evidence):
        result(line)


def _scores(evidence: "Evidence") -> Iterator[tuple[str, ...]]:
    for trial in evidence.trials:
        yield from (_score(HELD[trial.grouping], name, one) for name, one in trial.scores.items())
    for few in evidence.few_whips:
        yield from (_score(f"all but {few.whips} whips", name, one) for name, one in few.scores.items())


def _score(held: str, name: str, scores: "Scores") -> tuple[str, ...]:
    return (
        held,
        name,
        f"{100 * scores.rmse_log:.1f} %",
        f"{scores.median_mm:.2f}",
        _share(scores.coverage_50),
        _share(scores.coverage_90),
        f"{scores.log_score:.2f}",
    )


def _coverage(evidence: "Evidence") -> Iterator[tuple[object, ...]]:
    for trial in evidence.trials:
        yield from (_covered(HELD[trial.grouping], one) for one in trial.covered)
    for few in evidence.few_whips:
        yield from (_covered(f"all but {few.whips} whips", one) for one in few.covered)


def _covered(held: str, one: "Coverage") -> tuple[object, ...]:
    return held, one.in_words, one.readings, _share(one.coverage_50), _share(one.coverage_90)


def _share(share: float) -> str:
    return f"{100 * share:.0f} %"
