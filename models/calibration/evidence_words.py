"""The evidence for a fit in words: how far off it is, how its rivals fare, what its intervals hold."""

from collections.abc import Iterator, Mapping
from typing import Final

from plaitlog.models.calibration.conformal import FEWEST_GROUPS
from plaitlog.models.calibration.evidence import MODEL, AtFewWhips, Evidence, Kind, Scores, Trial
from plaitlog.models.counted import counted

KIND: Final[dict[Kind, str]] = {
    "whip": "On a whip not seen before",
    "cord": "On a cord never recorded",
    "maker": "On a maker not seen before",
    "rest": "On the rest of a whip whose first readings were taken",
}
_HELD: Final[dict[Kind, str]] = {"whip": "whip", "cord": "cord", "maker": "maker", "rest": "whip"}
OFF_90: Final = (0.86, 0.94)
"""Outside of these the share of readings in 90 % intervals is remarked on (own judgement)."""


def sentences(evidence: Evidence) -> Iterator[str]:
    """One line per trial, then what a part of the whips would have taught, then what was not tested."""
    if evidence.sample_whips is not None:
        yield (
            f"Tested on {counted(evidence.sample_readings or 0, 'reading')} of "
            f"{counted(evidence.sample_whips, 'whip')}, drawn at random: all of them would take too long."
        )
    for trial in evidence.trials:
        yield f"{accuracy(trial)} {rivals(trial.scores)} {coverage(trial)}{_slips(trial)}"
    for few in evidence.few_whips:
        yield few_whips(few)
    for finding in evidence.findings:
        if finding.code == "no-cross-validation":
            yield f"Not tested {finding}."
    if not evidence.trials and not evidence.findings:
        yield "Nothing was held out: there is no evidence."


def accuracy(trial: Trial) -> str:
    return (
        f"{KIND[trial.grouping]} the fit is off by {trial.model.median_mm:.2f} mm in the median, "
        f"{100 * trial.model.rmse_log:.1f} % in the root mean square ({counted(trial.readings, 'reading')} "
        f"of {counted(len(trial.groups), _HELD[trial.grouping])})."
    )


def rivals(scores: Mapping[str, Scores]) -> str:
    """Whether a rival comes nearer, and by how much each is off."""
    others = {name: one for name, one in scores.items() if name != MODEL}
    told = ", ".join(f"{name} {100 * one.rmse_log:.1f} %" for name, one in others.items())
    better = [name for name, one in others.items() if one.rmse_log < scores[MODEL].rmse_log]
    if better:
        return f"Beaten here by {' and '.join(better)}: {told}."
    return f"All rivals are further off: {told}."


def coverage(trial: Trial) -> str:
    """What the intervals held, and what was or could not be done about it."""
    told = (
        f"Its 50 % intervals held {100 * trial.model.coverage_50:.0f} % of the readings, "
        f"its 90 % intervals {100 * trial.model.coverage_90:.0f} %"
    )
    low, high = OFF_90
    if len(trial.groups) < FEWEST_GROUPS:
        held = _HELD[trial.grouping]
        bold = ", so take them as too narrow" if trial.model.coverage_90 < low else ""
        return (
            f"{told}; with fewer than {FEWEST_GROUPS} {held}s held out no correction of them can be "
            f"claimed{bold}."
        )
    if trial.scale is not None and abs(trial.scale - 1) >= 0.02:
        how = "widened" if trial.scale > 1 else "narrowed"
        told += f", after they were {how} to {100 * trial.scale:.0f} % of what the fit alone claims"
    if trial.model.coverage_90 < low:
        told += "; they are still too narrow"
    elif trial.model.coverage_90 > high:
        told += "; they are wider than need be"
    return f"{told}."


def few_whips(few: AtFewWhips) -> str:
    """What a part of the whips would have taught."""
    model = few.scores[MODEL]
    return (
        f"With {few.whips} of the whips alone it would be off by {100 * model.rmse_log:.1f} % on the others, "
        f"and its 90 % intervals hold {100 * model.coverage_90:.0f} %. {rivals(few.scores)}"
    )


def _slips(trial: Trial) -> str:
    if not trial.slips:
        return ""
    return f" Not counted: {counted(trial.slips, 'reading')} that none of them comes near."
