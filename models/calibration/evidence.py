"""What a fit can show for itself: predictions of readings it had not seen, beside three plain rivals."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final, Literal, Self

from plaitlog.models.errors import Finding

Grouping = Literal["whip", "cord", "maker"]
GROUPINGS: Final[tuple[Grouping, ...]] = ("whip", "cord", "maker")
MODEL: Final = "model"


@dataclass(frozen=True, slots=True)
class Scores:
    """Figures over held-out readings: RMSE of log D, median absolute error in mm, share of readings inside
    the 50 % and 90 % interval, mean log density of log D (the log score: higher is better)."""

    rmse_log: float
    median_mm: float
    coverage_50: float
    coverage_90: float
    log_score: float


@dataclass(frozen=True, slots=True)
class GroupScore:
    """How one held-out group fared: its readings and, by contender, the RMSE of log D."""

    group: str
    readings: int
    rmse_log: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Trial:
    """One way of holding out: by whip, by cord or by maker; ``scores`` by contender, the model first.

    ``slips``: readings that none came near, judged for no contender and not among ``readings``.
    """

    grouping: Grouping
    readings: int
    scores: Mapping[str, Scores]
    groups: tuple[GroupScore, ...]
    slips: int = 0

    @property
    def model(self) -> Scores:
        return self.scores[MODEL]

    @property
    def winner(self) -> str:
        """The contender with the smallest RMSE of log D."""
        return min(self.scores, key=lambda name: self.scores[name].rmse_log)


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything that cross-validation showed about one fit."""

    readings: int
    whips: int
    cords: int
    makers: int
    trials: tuple[Trial, ...]
    findings: tuple[Finding, ...] = ()

    def trial(self, grouping: Grouping) -> Trial | None:
        return next((trial for trial in self.trials if trial.grouping == grouping), None)

    def to_dict(self) -> dict[str, Any]:
        """Plain dicts, lists, texts and numbers, ready for JSON."""
        return asdict(self)

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> Self:
        """What ``to_dict`` gave, also after a trip through JSON."""
        trials = tuple(
            Trial(
                grouping=trial["grouping"],
                readings=trial["readings"],
                scores={name: Scores(**scores) for name, scores in trial["scores"].items()},
                groups=tuple(GroupScore(**group) for group in trial["groups"]),
                slips=trial["slips"],
            )
            for trial in stored["trials"]
        )
        findings = tuple(Finding(**finding) for finding in stored["findings"])
        counts = {name: stored[name] for name in ("readings", "whips", "cords", "makers")}
        return cls(**counts, trials=trials, findings=findings)

    def in_words(self) -> str:
        """The evidence as a maker reads it, one sentence or two a trial."""
        return "\n".join(_sentences(self))


_KIND: Final[dict[Grouping, str]] = {
    "whip": "On a whip not seen before",
    "cord": "On a cord never recorded",
    "maker": "On a maker not seen before",
}
_HELD: Final[dict[Grouping, str]] = {"whip": "whips", "cord": "cords", "maker": "makers"}


def _sentences(evidence: Evidence) -> Iterator[str]:
    """One line per trial, then what there was too little of."""
    for trial in evidence.trials:
        yield f"{_accuracy(trial)} {_rivals(trial)} {_coverage(trial)}{_slips(trial)}"
    for finding in evidence.findings:
        if finding.code == "no-cross-validation":
            yield f"Not tested {finding}."
    if not evidence.trials and not evidence.findings:
        yield "Nothing was held out: there is no evidence."


def _accuracy(trial: Trial) -> str:
    share = 100 * trial.model.rmse_log
    return (
        f"{_KIND[trial.grouping]} the fit is off by {trial.model.median_mm:.2f} mm in the median, "
        f"{share:.1f} % in the root mean square ({trial.readings} readings of {len(trial.groups)} "
        f"{_HELD[trial.grouping] if len(trial.groups) != 1 else _HELD[trial.grouping][:-1]})."
    )


def _rivals(trial: Trial) -> str:
    others = {name: scores for name, scores in trial.scores.items() if name != MODEL}
    told = ", ".join(f"{name} {100 * scores.rmse_log:.1f} %" for name, scores in others.items())
    better = [name for name, scores in others.items() if scores.rmse_log < trial.model.rmse_log]
    if better:
        return f"Beaten here by {' and '.join(better)}: {told}."
    return f"All rivals are further off: {told}."


def _coverage(trial: Trial) -> str:
    return (
        f"Its 50 % intervals held {100 * trial.model.coverage_50:.0f} % of the readings, "
        f"its 90 % intervals {100 * trial.model.coverage_90:.0f} %."
    )


def _slips(trial: Trial) -> str:
    if not trial.slips:
        return ""
    readings = "1 reading" if trial.slips == 1 else f"{trial.slips} readings"
    return f" Not counted: {readings} that none of them comes near."
