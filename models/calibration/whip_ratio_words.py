"""The evidence for weights, balance points and cord use in words."""

from collections.abc import Iterator, Mapping
from typing import Final

from plaitlog.models.calibration.ratio_evidence import RatioEvidence
from plaitlog.models.counted import counted

_WHAT: Final = {
    "weight": ("Weight", "reckoning from strands and linear density alone"),
    "balance": ("Balance point", "reckoning it from the mass along the thong alone"),
    "cord_use": ("Cord use", "reckoning from strand paths and a usual tail alone"),
}


def weighing_sentences(evidence: Mapping[str, RatioEvidence]) -> Iterator[str]:
    """One line each for what could be tested: how far off, how the plain ways fare, what intervals hold."""
    for name, (what, plain) in _WHAT.items():
        one = evidence.get(name)
        if one is None:
            continue
        nearer = one.model <= min(one.reckoned, one.mean_ratio)
        yield (
            f"{what} of {counted(one.whips, 'whip')} left out in turn: off by {100 * one.model:.1f} % in the "
            f"root mean square; {plain} {100 * one.reckoned:.1f} %, times the mean ratio "
            f"{100 * one.mean_ratio:.1f} %{'' if nearer else ', which comes nearer here'}. The 90 % interval "
            f"held {100 * one.coverage_90:.0f} %.{_slips(one.slips)}"
        )


def _slips(count: int) -> str:
    if not count:
        return ""
    return f" {count} that nothing came near {'is' if count == 1 else 'are'} left out: look again at them."
