"""What a fit can show for itself: predictions of readings it had not seen, beside three plain rivals."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final, Literal, Self

from plaitlog.models.errors import Finding

Grouping = Literal["whip", "cord", "maker"]
Kind = Literal["whip", "cord", "maker", "rest"]
"""What is held out. ``rest``: of a whip, after its first readings were taken."""
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
class Coverage:
    """Share of the readings of one kind inside the model's intervals.

    ``level``: of the split by depth the number of plaited layers in the stack, of the split by cord whether
    all cords were known when the reading was predicted.
    """

    split: Literal["depth", "cord"]
    level: str
    readings: int
    coverage_50: float
    coverage_90: float

    @property
    def in_words(self) -> str:
        """What these readings were taken on."""
        if self.split == "cord":
            return "known cords" if self.level == "known" else "a cord new to the fit"
        if self.level == "0":
            return "no plaited layer"
        return f"{self.level} plaited layer{'' if self.level == '1' else 's'}"


@dataclass(frozen=True, slots=True)
class Trial:
    """One way of holding out; ``scores`` by contender, the model first.

    ``slips``: readings that none came near, judged for no contender and not among ``readings``. ``scale``:
    what these readings multiply interval widths with; None where too few groups were held out to claim any.
    """

    grouping: Kind
    readings: int
    scores: Mapping[str, Scores]
    groups: tuple[GroupScore, ...]
    slips: int = 0
    scale: float | None = None
    covered: tuple[Coverage, ...] = ()

    @property
    def model(self) -> Scores:
        return self.scores[MODEL]

    @property
    def winner(self) -> str:
        """The contender with the smallest RMSE of log D."""
        return min(self.scores, key=lambda name: self.scores[name].rmse_log)


@dataclass(frozen=True, slots=True)
class AtFewWhips:
    """How a fit to so many whips, drawn at random, predicts ``readings`` of the others."""

    whips: int
    readings: int
    scores: Mapping[str, Scores]
    covered: tuple[Coverage, ...] = ()


@dataclass(frozen=True, slots=True)
class HeldReading:
    """One reading, held out with its whip, and what was predicted for it; sizes in mm."""

    whip: str
    at_mm: float | None
    depth: int
    new_cord: bool
    measured_mm: float
    predicted_mm: float
    low_90_mm: float
    high_90_mm: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything that cross-validation showed about one fit.

    readings, whips, cords, makers: in the fit. sample_whips, sample_readings: of them in the seeded sample
    that was cross-validated; None where it was all of them. held_out: readings to draw, not necessarily all.
    """

    readings: int
    whips: int
    cords: int
    makers: int
    trials: tuple[Trial, ...]
    findings: tuple[Finding, ...] = ()
    few_whips: tuple[AtFewWhips, ...] = ()
    sample_whips: int | None = None
    sample_readings: int | None = None
    held_out: tuple[HeldReading, ...] = ()

    def trial(self, grouping: Kind) -> Trial | None:
        return next((trial for trial in self.trials if trial.grouping == grouping), None)

    def to_dict(self, *, with_held_out: bool = True) -> dict[str, Any]:
        """Plain dicts, lists, texts and numbers, ready for JSON; on demand without the single readings."""
        told = asdict(self)
        if not with_held_out:
            del told["held_out"]
        return told

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> Self:
        """What ``to_dict`` gave, also after a trip through JSON, also of versions that told less."""
        return cls(
            **{name: stored[name] for name in ("readings", "whips", "cords", "makers")},
            trials=tuple(_trial(trial) for trial in stored["trials"]),
            findings=tuple(Finding(**finding) for finding in stored["findings"]),
            few_whips=tuple(
                AtFewWhips(one["whips"], one["readings"], _scores(one), _covered(one))
                for one in stored.get("few_whips", ())
            ),
            sample_whips=stored.get("sample_whips"),
            sample_readings=stored.get("sample_readings"),
            held_out=tuple(HeldReading(**one) for one in stored.get("held_out", ())),
        )

    def in_words(self) -> str:
        """The evidence as a maker reads it, one sentence or two a trial."""
        from plaitlog.models.calibration.evidence_words import sentences

        return "\n".join(sentences(self))


def _trial(stored: Mapping[str, Any]) -> Trial:
    return Trial(
        grouping=stored["grouping"],
        readings=stored["readings"],
        scores=_scores(stored),
        groups=tuple(GroupScore(**group) for group in stored["groups"]),
        slips=stored["slips"],
        scale=stored.get("scale"),
        covered=_covered(stored),
    )


def _scores(stored: Mapping[str, Any]) -> dict[str, Scores]:
    return {name: Scores(**scores) for name, scores in stored["scores"].items()}


def _covered(stored: Mapping[str, Any]) -> tuple[Coverage, ...]:
    return tuple(Coverage(**one) for one in stored.get("covered", ()))
