"""The nouns of the trade as frozen dataclasses: all lengths in mm, masses in g.

Three states run through every optional field: a value, ``"none"`` (it is known that there is none)
and ``None`` (not known). ``typed`` keeps, per field, the text as the maker typed it.
"""

import datetime as dt
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal

NONE: Final = "none"
KnownNone = Literal["none"]

Construction = Literal["cored", "gutted", "solid"]
Role = Literal["core", "belly", "bolster", "binding", "overlay"]
Status = Literal["planned", "on the bench", "finished"]
Condition = Literal["fresh", "rolled", "waxed", "broken in"]
Datum = Literal["handle end", "butt"]
PlaceKind = Literal["at", "about", "between", "not noted"]
FateKind = Literal["cut", "tuck", "run"]
Rest = Literal["point", "not noted"]
Quality = Literal["ease", "volley", "accuracy", "roll_out", "recovery", "tracking", "balance", "overall"]
Feel = Literal["thong_handle", "limp_stiff", "slow_quick"]
Comparison = Literal["better", "same", "worse"]

ON_THE_BENCH: Final[Status] = "on the bench"
CONSTRUCTIONS: Final[tuple[Construction, ...]] = ("cored", "gutted", "solid")
ROLES: Final[tuple[Role, ...]] = ("core", "belly", "bolster", "binding", "overlay")
STATUSES: Final[tuple[Status, ...]] = ("planned", "on the bench", "finished")
CONDITIONS: Final[tuple[Condition, ...]] = ("fresh", "rolled", "waxed", "broken in")
DATUMS: Final[tuple[Datum, ...]] = ("handle end", "butt")
QUALITIES: Final[tuple[Quality, ...]] = (
    "ease", "volley", "accuracy", "roll_out", "recovery", "tracking", "balance", "overall",
)  # fmt: skip
FEELS: Final[tuple[Feel, ...]] = ("thong_handle", "limp_stiff", "slow_quick")
NOT_TRIED: Final = "not tried"
COMPARISONS: Final[tuple[Comparison, ...]] = ("better", "same", "worse")
UNSTATED_CONDITION: Final[Condition] = "rolled"
"""What a reading is taken to be when no condition is noted (common practice, no source)."""
TAPE_MM: Final = 0.2
"""Thickness of a tape where none is noted: a tailor's tape (own measure, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cord:
    """A cord kind: what a fit learns about. Sizes in mm, linear density in g/m, fibre density in g/cm3.

    ``construction``: cored (sheath over inner yarns), gutted (sheath only) or solid (a cut strand, leather).
    ``pressed_mm`` is the caliper reading pressed shut, ``diameter_mm`` just touching, ``flat_width_mm``
    a tenth of ten strands side by side.
    """

    name: str
    material: str
    construction: Construction
    diameter_mm: float | None = None
    pressed_mm: float | None = None
    flat_width_mm: float | None = None
    linear_density_g_per_m: float | None = None
    fibre_density_g_per_cm3: float | None = None
    supplier: str | None = None
    price_per_m: float | None = None
    notes: str | None = None
    typed: Mapping[str, str] = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class CordStock:
    """Metres of one cord in one colour and lot, as bought."""

    cord: str
    colour: str | None = None
    lot: str | None = None
    metres: float | None = None
    price_per_m: float | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True)
class Span:
    """A number known to lie between two bounds, both included; exact when they agree."""

    low: float
    high: float

    @property
    def exact(self) -> bool:
        return self.low == self.high

    @property
    def mid(self) -> float:
        return (self.low + self.high) / 2

    @property
    def variance(self) -> float:
        """Variance of a uniform distribution over the span (0 when exact)."""
        return (self.high - self.low) ** 2 / 12

    def plus(self, other: "Span") -> "Span":
        return Span(self.low + other.low, self.high + other.high)

    def hull(self, other: "Span") -> "Span":
        return Span(min(self.low, other.low), max(self.high, other.high))

    def times(self, factor: float) -> "Span":
        return Span(self.low * factor, self.high * factor)


def exactly(value: float) -> Span:
    """The span of a number that is known."""
    return Span(value, value)


def sum_of(spans: Sequence[Span]) -> Span:
    """The span of a sum; 0 of nothing."""
    if len(spans) == 1:
        return spans[0]
    return Span(sum(span.low for span in spans), sum(span.high for span in spans))


@dataclass(frozen=True, slots=True)
class Place:
    """Where a step lies, mm from the datum; how it was noted is kept so that it can be printed again."""

    low_mm: float
    high_mm: float
    kind: PlaceKind = "at"

    @property
    def mid_mm(self) -> float:
        return (self.low_mm + self.high_mm) / 2

    def follows(self, earlier: "Place") -> bool:
        """Whether this place can come after the other one; two steps cannot share one exact place."""
        if "not noted" in (self.kind, earlier.kind):
            return self.high_mm >= earlier.low_mm
        if self.kind == earlier.kind == "at":
            return self.low_mm > earlier.low_mm
        return self.mid_mm >= earlier.mid_mm


@dataclass(frozen=True, slots=True)
class Fate:
    """What becomes of a dropped strand: cut at once, tucked for ``length_mm``, or run on inside.

    ``until_mm`` ends a run before the point; ``gutted``: only the sheath goes on inside.
    """

    kind: FateKind
    length_mm: float | None = None
    gutted: bool = False
    until_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """From ``place`` on, ``counts`` strands of the layer's cords run (same order as ``Layer.cords``).

    ``fate`` is that of the strands dropped here (None: the layer's own, or not noted);
    ``pattern`` is set where it is noted at this step.
    """

    place: Place
    counts: tuple[Span, ...]
    fate: Fate | None = None
    pattern: str | None = None

    @property
    def total(self) -> Span:
        return sum_of(self.counts)


@dataclass(frozen=True, slots=True)
class StrandSchedule:
    """The strand counts of one layer along the thong; a step holds until the next.

    ``rest``: after the last step the layer runs on to the point, or what follows was not noted.
    """

    steps: tuple[Step, ...]
    rest: Rest = "point"


@dataclass(frozen=True, slots=True)
class LayerCord:
    """One cord of a layer: its name, its share of the strands, its letter in the line notation, its lot."""

    cord: str
    share: float = 1.0
    letter: str | None = None
    lot: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One layer, innermost first in ``Whip.layers``; its place in that list is its identity.

    A layer either has ``cords`` and a ``schedule`` (None: not noted), or, for core, bolster and binding,
    a given ``diameter_mm`` or ``thickness_mm`` between ``from_mm`` and ``to_mm`` (to the point when None).
    """

    role: Role
    cords: tuple[LayerCord, ...] = ()
    schedule: StrandSchedule | None = None
    fate: Fate | None = None
    diameter_mm: float | None = None
    thickness_mm: float | None = None
    from_mm: float | None = None
    to_mm: float | None = None
    what: str | None = None
    notes: str | None = None
    typed: Mapping[str, str] = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Foundation:
    """A rod, spike or mandrel that the layers lie on, from the butt to ``to_mm`` (to the datum when None)."""

    diameter_mm: float
    to_mm: float | None = None
    material: str | None = None
    typed: Mapping[str, str] = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One measured diameter. Either ``diameter_mm``, or ``girth_mm`` with the tape's thickness.

    ``at_mm`` is None where only a named place was noted (``place``: thick, mid or point) that cannot
    be turned into a station. ``after_layer`` counts the listed layers from 1, innermost; None: finished.
    """

    at_mm: float | None
    diameter_mm: float | None = None
    girth_mm: float | None = None
    tape_mm: float | None = None
    place: str | None = None
    after_layer: int | None = None
    condition: Condition | None = None
    doubtful: bool = False
    on: dt.date | None = None
    notes: str | None = None
    typed: Mapping[str, str] = field(default_factory=dict, compare=False)

    @property
    def size_mm(self) -> float:
        """The diameter, from the girth where a tape was used: girth / pi less the tape's thickness.

        The girth is read at the middle of the tape; one whose thickness is not noted counts as ``TAPE_MM``.
        """
        if self.diameter_mm is not None:
            return self.diameter_mm
        assert self.girth_mm is not None
        return girth_to_diameter(self.girth_mm, TAPE_MM if self.tape_mm is None else self.tape_mm)

    @property
    def method(self) -> Literal["caliper", "girth"]:
        return "girth" if self.diameter_mm is None else "caliper"


@dataclass(frozen=True, slots=True)
class TurnLength:
    """How far along the thong one strand needs for one turn, measured on the layer that was outermost."""

    at_mm: float
    turn_mm: float
    after_layer: int | None = None
    typed: Mapping[str, str] = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True)
class Weight:
    """One weighing; ``with_parts``: what was on the scale beside handle and thong (``"none"``: nothing)."""

    weight_g: float
    with_parts: tuple[str, ...] | KnownNone | None = None
    after_layer: int | None = None
    typed: Mapping[str, str] = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True)
class Balance:
    """Balance point, counted from the butt or the handle end, and how the whip was held."""

    at_mm: float
    counted_from: Datum = "butt"
    how: str | None = None
    typed: Mapping[str, str] = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True)
class CordUse:
    cord: str
    metres: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RatingSession:
    """One person's judgement on one day: scores 1 to 10 per quality or "not tried", feel -2 to +2.

    Where the whip was thrown beside another recorded one, ``compared_with`` is the label of that one, and a
    score may also be "better", "same" or "worse" than it. ``on`` and ``hours_of_use`` are None for the
    maker's own rating noted without a session.
    """

    by: str | None = None
    on: dt.date | None = None
    hours_of_use: float | None = None
    fall: str | None = None
    cracker: str | None = None
    compared_with: str | None = None
    scores: Mapping[str, float | Literal["not tried"] | Comparison] = field(default_factory=dict)
    feel: Mapping[str, float] = field(default_factory=dict)
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Whip:
    """One whip as recorded. Only the label is required; what is missing limits what it can be used for.

    ``plan`` is the document of the plan it is made from, kept as it was.
    """

    label: str
    maker: str | None = None
    type: str | None = None
    status: Status | None = None
    made_on: dt.date | None = None
    build_number: int | None = None
    datum: Datum | None = None
    thong_length_mm: float | None = None
    quoted_length: str | None = None
    handle_length_mm: float | None = None
    handle_diameter_mm: float | None = None
    foundation: Foundation | KnownNone | None = None
    layers: tuple[Layer, ...] = ()
    layers_complete: bool | None = None
    readings: tuple[Reading, ...] = ()
    turn_lengths: tuple[TurnLength, ...] = ()
    finish: tuple[str, ...] | KnownNone | None = None
    weights: tuple[Weight, ...] = ()
    balance: Balance | None = None
    hours: float | None = None
    cord_used: tuple[CordUse, ...] = ()
    fall: str | None = None
    cracker: str | None = None
    ratings: tuple[RatingSession, ...] = ()
    plan: Mapping[str, Any] | None = None
    notes: str | None = None
    typed: Mapping[str, str] = field(default_factory=dict, compare=False)

    @property
    def point_mm(self) -> float | None:
        """Station of the point in the whip's own datum; None where the lengths are not known."""
        if self.thong_length_mm is None:
            return None
        if self.datum == "butt":
            return None if self.handle_length_mm is None else self.handle_length_mm + self.thong_length_mm
        return self.thong_length_mm


_PATTERN = re.compile(r"(?:[uo][1-9]\d?)+")


def pattern_sum(pattern: str) -> int | None:
    """Strands passed in one turn: ``u2o2u2o2`` gives 8, half the count; None if it is not a pattern."""
    if not _PATTERN.fullmatch(pattern):
        return None
    return sum(int(number) for number in re.findall(r"\d+", pattern))


def girth_to_diameter(girth_mm: float, tape_mm: float = 0.0) -> float:
    """Diameter of a round body from its girth at the middle of a tape: girth / pi - tape thickness (mm)."""
    return girth_mm / math.pi - tape_mm
