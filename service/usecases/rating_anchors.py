"""What 1, 5 and 10 mean for each quality, and the ends of each two-sided note.

Common practice, no source: the same anchors stand on the form, in the dialogue and on the printed card, so
that ratings of different days mean the same.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from plaitlog.models.whip import Quality


@dataclass(frozen=True, slots=True)
class Anchors:
    """The name of a quality and what its lowest, middle and highest score mean."""

    name: str
    one: str
    five: str
    ten: str

    @property
    def line(self) -> str:
        """All three in a line."""
        return f"1 {self.one}, 5 {self.five}, 10 {self.ten}"


RATED: Final[Mapping[Quality, Anchors]] = {
    "ease": Anchors(
        "Ease", "cracks only with full force", "most ordinary throws crack", "a lazy wrist cracks it"
    ),
    "volley": Anchors(
        "Volley", "the second crack fails", "four to six in rhythm", "twenty and more at any tempo"
    ),
    "accuracy": Anchors("Accuracy", "0 or 1 of 10 throws hits a 1 in paper strip", "5 of 10", "10 of 10"),
    "roll_out": Anchors(
        "Roll-out", "kinks or stalls", "rolls with a hurried or slow place", "one smooth loop"
    ),
    "recovery": Anchors("Recovery", "tangles", "ready after a beat", "falls in line, next throw at once"),
    "tracking": Anchors("Tracking", "twists out of plane", "wanders now and then", "stays in plane"),
    "balance": Anchors("Balance", "the wrist tires in two minutes", "noticed, bearable", "weight forgotten"),
    "overall": Anchors("Overall", "would not hand it on", "sound practice whip", "the one I keep"),
}
FELT: Final[Mapping[str, tuple[str, str]]] = {
    "thong_handle": ("thong-heavy", "handle-heavy"),
    "limp_stiff": ("limp", "stiff"),
    "slow_quick": ("slow", "quick"),
}
"""What -2 and what +2 mean."""
CARE: Final = (
    "Eye and ear protection, a clear circle well over the whip's whole length plus your arm, nobody and no "
    "animal in it or as a target, never indoors; check heel knot, hitch, fall and rod first. Local law and a "
    "qualified teacher come before anything printed here."
)
"""What to take care of before a whip is thrown."""
