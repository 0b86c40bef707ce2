"""What a plan is asked for, as a maker writes it down in a file or sends it.

Keys that end in a unit hold numbers; the same key without that ending takes text as a maker types it.
"""

from typing import Annotated, Any, ClassVar, Final, Literal

from pydantic import BeforeValidator, Field, Tag, ValidationError, WithJsonSchema

from plaitlog.models import units
from plaitlog.models.errors import RecordError
from plaitlog.models.taper import FULLNESS_LIMITS
from plaitlog.models.whip import Datum
from plaitlog.service.schemas.refusals import findings_of
from plaitlog.service.schemas.values import (
    DiameterMm,
    Keys,
    KnownNone,
    Name,
    NoneOrValue,
    Shape,
    Share,
    Text,
    Typed,
    refusal,
    shown,
)
from plaitlog.service.schemas.whips import FoundationShape

THONG_AT_MOST_MM: Final = 15_000.0
LAYERS_AT_MOST: Final = 6
CORDS_AT_MOST: Final = 4
STATIONS_AT_MOST: Final = 200
PatternName = Literal[
    "stock whip",
    "fine stock whip",
    "heavy stock whip",
    "light bullwhip",
    "heavy bullwhip",
    "early bellies",
    "6 ft bullwhip",
    "5 1/2 ft bullwhip",
    "10 ft bullwhip",
]


def _within(low: float, high: float, unit: str = "") -> BeforeValidator:
    """A number of a unit within limits, both included."""

    def check(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise refusal("not-a-number", f"{shown(value)} is not a number", "write a number")
        if not low <= value <= high:
            raise refusal(
                "out-of-range",
                f"{shown(value)} cannot be planned with",
                f"write {low:g} to {high:g}{unit and ' ' + unit}",
            )
        return float(value)

    return BeforeValidator(check)


def _limits(low: float, high: float) -> WithJsonSchema:
    return WithJsonSchema({"type": "number", "minimum": low, "maximum": high})


def _pairs(value: Any) -> Any:
    """Stations: [place, diameter] each, at least two of them."""
    if not isinstance(value, list) or not 2 <= len(value) <= STATIONS_AT_MOST:
        raise refusal(
            "stations", f"{shown(value)} is no list of stations", f"write 2 to {STATIONS_AT_MOST} of them"
        )
    for pair in value:
        if not isinstance(pair, list) or len(pair) != 2:
            raise refusal(
                "station", f"{shown(pair)} is no station", 'write [place, diameter]: ["0", "14 mm"]'
            )
    return value


def _stations(kind: str) -> WithJsonSchema:
    member = {"type": kind} if kind == "number" else {"type": kind, "minLength": 1, "maxLength": 200}
    pair = {"type": "array", "items": member, "minItems": 2, "maxItems": 2}
    return WithJsonSchema({"type": "array", "items": pair, "minItems": 2, "maxItems": STATIONS_AT_MOST})


def _counts(value: Any) -> Any:
    if (
        not isinstance(value, list)
        or len(value) != 2
        or any(isinstance(one, bool) or not isinstance(one, int) for one in value)
        or not 1 <= value[0] <= value[1] <= 40
    ):
        raise refusal("counts", f"{shown(value)} is no range of counts", "write [least, most], 1 to 40")
    return value


def _cover(value: Any) -> Any:
    if (
        not isinstance(value, list)
        or len(value) != 2
        or any(isinstance(one, bool) or not isinstance(one, int | float) for one in value)
        or not 0 <= value[0] < value[1] <= 3
    ):
        raise refusal("cover", f"{shown(value)} is no range of covers", "write [least, most], 0 to 3")
    return value


def _array(of: str, low: float, high: float, size: int) -> WithJsonSchema:
    item = {"type": of, "minimum": low, "maximum": high}
    return WithJsonSchema({"type": "array", "items": item, "minItems": size, "maxItems": size})


ThongMm = Annotated[float, _within(100, THONG_AT_MOST_MM, "mm"), _limits(100, THONG_AT_MOST_MM)]
PlaceMm = Annotated[float, _within(0, THONG_AT_MOST_MM, "mm"), _limits(0, THONG_AT_MOST_MM)]
Fullness = Annotated[float, _within(*FULLNESS_LIMITS), _limits(*FULLNESS_LIMITS)]
Stations = Annotated[list[Any], BeforeValidator(_pairs), _stations("string")]
StationsMm = Annotated[list[Any], BeforeValidator(_pairs), _stations("number")]
Counts = Annotated[list[int], BeforeValidator(_counts), _array("integer", 1, 40, 2)]
Cover = Annotated[list[float], BeforeValidator(_cover), _array("number", 0, 3, 2)]
Cost = Annotated[float, _within(0, 100), _limits(0, 100)]
SpacingMm = Annotated[float, _within(0, 300, "mm"), _limits(0, 300)]
GridMm = Annotated[float, _within(5, 50, "mm"), _limits(5, 50)]


class TargetShape(Shape):
    """The wanted diameters: by a taper, by stations, or those of a recorded whip."""

    as_typed: ClassVar[Keys] = {
        "thick_end_mm": ("thick_end", units.parse_diameter),
        "point_mm": ("point", units.parse_diameter),
        "parallel_thick_mm": ("parallel_thick", units.parse_length),
        "parallel_point_mm": ("parallel_point", units.parse_length),
    }

    taper: Literal["early", "even", "late"] | None = Field(
        None, description="Where the diameter is lost; even: a straight line in the diameter squared."
    )
    fullness: Fullness | None = Field(
        None, description="Instead of the word: the mean share of the difference that is left, 0.1 to 0.9."
    )
    thick_end_mm: DiameterMm | None = Field(None, description="Diameter at the thick end, mm.")
    thick_end: Typed | None = Field(None, description="The same as typed, with its unit.")
    point_mm: DiameterMm | None = Field(None, description="Diameter at the point, mm.")
    point: Typed | None = Field(None, description="The same as typed, with its unit.")
    parallel_thick_mm: PlaceMm | None = Field(
        None, description="Length held parallel at the thick end, mm; no strand is dropped there."
    )
    parallel_thick: Typed | None = Field(None, description="The same as typed, with its unit.")
    parallel_point_mm: PlaceMm | None = Field(
        None, description="Length held parallel at the point, mm; no strand is dropped there."
    )
    parallel_point: Typed | None = Field(None, description="The same as typed, with its unit.")
    stations_mm: StationsMm | None = Field(
        None, description="Wanted diameters as [place, diameter], both mm; straight lines between them."
    )
    stations: Stations | None = Field(None, description='The same as typed: [["0 in", "14 mm"], ...].')
    like: Name | None = Field(
        None, description="A recorded whip whose smoothed profile is wanted, scaled to the thong's length."
    )
    pair_of: Name | None = Field(
        None, description="A recorded whip whose matched pair it is to be: its measured profile and weight."
    )


class PlannedCordShape(Shape):
    """One of several cords in a layer."""

    cord: Name = Field(description="Name of the cord, or a part of it.")
    share: Share | None = Field(None, description="Its strands as a share of the layer's; null: 1.")


class PlannedLayerShape(Shape):
    """A layer: strands of a cord that are to be planned, or a given diameter or thickness."""

    as_typed: ClassVar[Keys] = {
        "ends_mm": ("ends", units.parse_length),
        "diameter_mm": ("diameter", units.parse_diameter),
        "thickness_mm": ("thickness", units.parse_thickness),
        "from_mm": ("from", units.parse_length),
        "to_mm": ("to", units.parse_length),
    }

    role: Literal["core", "belly", "bolster", "binding", "overlay"] = Field(
        description="core, belly, bolster, binding or overlay."
    )
    cord: Name | None = Field(None, description="Name of the cord of all its strands, or a part of it.")
    cords: Annotated[list[PlannedCordShape], Field(min_length=2, max_length=CORDS_AT_MOST)] | None = Field(
        None,
        description="Instead of one cord: several, each with its share; each drop is of the cord that has "
        "most beyond its share.",
    )
    start: Annotated[int, Field(strict=True, ge=1, le=40)] | None = Field(
        None, description="Strands it begins with; null: open."
    )
    ends_mm: PlaceMm | None = Field(None, description="Where it ends, mm from the datum; null: open.")
    ends: Typed | None = Field(None, description='The same as typed, with its unit, or "point".')
    fate: Typed | None = Field(
        None,
        description="What becomes of dropped strands: cut, tuck LENGTH [gut], run [gut]; null: a core's are "
        "cut, a plait's tucked for 80 mm or 3 in, gutted where there are inner yarns (common practice, no "
        "source).",
    )
    diameter_mm: DiameterMm | None = Field(None, description="Diameter of a layer without strands, mm.")
    diameter: Typed | None = Field(None, description="The same as typed, with its unit.")
    thickness_mm: DiameterMm | None = Field(None, description="Thickness of a layer without strands, mm.")
    thickness: Typed | None = Field(None, description="The same as typed, with its unit.")
    from_mm: PlaceMm | None = Field(None, description="Where a layer without strands begins, mm.")
    from_: Typed | None = Field(None, alias="from", description="The same as typed, with its unit.")
    to_mm: PlaceMm | None = Field(None, description="Where it ends, mm; null: at the point.")
    to: Typed | None = Field(None, description="The same as typed, with its unit.")
    what: Text | None = Field(None, description="What a layer without strands is: tape, thread, rope, ...")


class RulesShape(Shape):
    """What a hand would do; each has a default (own choice or common practice, no source)."""

    as_typed: ClassVar[Keys] = {
        "grid_mm": ("grid", units.parse_length),
        "core_spacing_mm": ("core_spacing", units.parse_length),
        "plait_spacing_mm": ("plait_spacing", units.parse_length),
        "apart_mm": ("apart", units.parse_length),
    }

    grid_mm: GridMm | None = Field(
        None,
        description="Stations at which a strand may be dropped, mm; 10, or half an inch where lengths are in "
        "feet or inches.",
    )
    grid: Typed | None = Field(None, description="The same as typed, with its unit.")
    plait_counts: Counts | None = Field(None, description="Least and most strands of a plait; [4, 24].")
    core_counts: Counts | None = Field(None, description="Least and most strands of a core; [1, 40].")
    core_spacing_mm: SpacingMm | None = Field(
        None, description="Least distance between two drops of a core, mm; 20."
    )
    core_spacing: Typed | None = Field(None, description="The same as typed, with its unit.")
    plait_spacing_mm: SpacingMm | None = Field(
        None, description="Least distance between two drops of a plait, mm, its tuck at least; 40."
    )
    plait_spacing: Typed | None = Field(None, description="The same as typed, with its unit.")
    apart_mm: SpacingMm | None = Field(
        None, description="Least distance between drops of different layers, mm; 10."
    )
    apart: Typed | None = Field(None, description="The same as typed, with its unit.")
    cover: Cover | None = Field(None, description="Least and most cover of a plait; [0.7, 1.05].")
    regular: Annotated[list[Annotated[int, Field(strict=True, ge=1, le=40)]], Field(max_length=40)] | None = (
        Field(None, description="Counts of plaits with a regular pattern; [16, 12, 8].")
    )
    drop_cost: Cost | None = Field(
        None, description="Of each drop in a plait, in squared standard deviations on 100 mm; 0.05."
    )
    irregular_cost: Cost | None = Field(
        None, description="Of a metre at a count that is not regular, in the same measure; 0.5."
    )


class PlanSpec(Shape):
    """A whip that is to be planned."""

    as_typed: ClassVar[Keys] = {
        "thong_length_mm": ("thong_length", units.parse_length),
        "handle_length_mm": ("handle_length", units.parse_length),
        "handle_diameter_mm": ("handle_diameter", units.parse_diameter),
        "transition_mm": ("transition", units.parse_length),
    }

    label: Name | None = Field(None, description="What the plan is called; it need not be new.")
    maker: Name | None = Field(None, description="Whose hands; one who is not in the fit widens intervals.")
    type: Name | None = Field(None, description="Free text: bullwhip, stock whip, ...")
    units: Literal["mm", "cm", "in"] | None = Field(
        None, description="The unit of lengths that are typed without one."
    )
    fit: Annotated[int, Field(strict=True, ge=1, le=2**31 - 1)] | None = Field(
        None, description="Number of the fit it is to rest on; null: the fit in force."
    )
    pattern: PatternName | None = Field(
        None, description="A ready pattern for what is left open (common practice, no source)."
    )
    datum: Datum | None = Field(
        None, description="Where places in this text are counted from; null: the handle end of the thong."
    )
    thong_length_mm: ThongMm | None = Field(None, description="Length of the thong, mm, at most 15 m.")
    thong_length: Typed | None = Field(None, description="The same as typed, with its unit.")
    handle_length_mm: PlaceMm | None = Field(None, description="Length of the handle, mm; 0: none.")
    handle_length: Typed | None = Field(None, description="The same as typed, with its unit.")
    handle_diameter_mm: DiameterMm | None = Field(
        None, description="Diameter of the finished handle over everything, mm."
    )
    handle_diameter: Typed | None = Field(None, description="The same as typed, with its unit.")
    transition_mm: PlaceMm | None = Field(
        None, description="Length of the transition behind the handle, mm; no strand is dropped there."
    )
    transition: Typed | None = Field(None, description="The same as typed, with its unit.")
    foundation: Annotated[Annotated[FoundationShape, Tag("<value>")] | KnownNone, NoneOrValue] | None = Field(
        None, description='The rod or spike that the layers lie on, or "none".'
    )
    target: TargetShape | None = Field(None, description="The wanted diameters.")
    layers: Annotated[list[PlannedLayerShape], Field(max_length=LAYERS_AT_MOST)] | None = Field(
        None, description="The layers, innermost first; null with a whip it is to be like: the same as in it."
    )
    rules: RulesShape | None = Field(None, description="Rules of the bench that are not as usual.")


def spec_from(data: Any) -> PlanSpec:
    """The plan that an object asks for.

    Raises
    ------
    RecordError
        With everything that is to be mended: key, value, remedy.
    """
    try:
        return PlanSpec.model_validate(data)
    except ValidationError as error:
        raise RecordError(*findings_of(error, PlanSpec)) from None
