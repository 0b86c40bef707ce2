"""What a plan is told as: layers with their drops, every station, what to cut, the weight."""

from typing import Literal

from pydantic import Field

from plaitlog.models.whip import Role
from plaitlog.service.schemas.answers import Number, Wire
from plaitlog.service.schemas.failures import Remark


class DropOut(Wire):
    """A place where strands end, or a layer does."""

    at_mm: float = Field(description="Place, mm from the datum.")
    from_: int = Field(alias="from", description="Strands before it.")
    to: int = Field(description="Strands behind it.")


class PlannedLayerOut(Wire):
    """A layer as planned, or as it was given."""

    role: Role = Field(description="core, belly, bolster, binding or overlay.")
    cord: str | None = Field(description="Its cord; null: a layer without strands.")
    strands: list[tuple[float, int]] | None = Field(
        description="Steps [from_mm, count], each until the next; null: a layer without strands."
    )
    by_cord: list[tuple[float, dict[str, int]]] | None = Field(
        description="The same steps with the strands of each cord by its name; null: a layer of one cord."
    )
    fate: str | None = Field(
        description="What becomes of dropped strands: cut, tuck LENGTH [gut], run [gut]."
    )
    pattern: list[tuple[float, str]] | None = Field(
        description="Steps [from_mm, pattern] of a plait; null: no plait."
    )
    drops: list[DropOut] = Field(description="Its drops, in order.")
    diameter_mm: float | None = Field(None, description="Diameter of a layer without strands, mm.")
    thickness_mm: float | None = Field(None, description="Thickness of a layer without strands, mm.")
    from_mm: float | None = Field(None, description="Where a layer without strands begins, mm.")
    to_mm: float | None = Field(None, description="Where it ends, mm; null: at the point.")
    what: str | None = Field(None, description="What a layer without strands is.")


class PlannedStationOut(Wire):
    """What comes out at one station of the grid."""

    at_mm: float = Field(description="Place, mm from the datum.")
    target_mm: float = Field(description="Wanted diameter, mm.")
    diameter_mm: float = Field(description="Predicted diameter, mm, median.")
    low_90_mm: float = Field(description="Lower end of its 90 % interval for the next reading, mm.")
    high_90_mm: float = Field(description="Upper end of its 90 % interval for the next reading, mm.")
    cover: float | None = Field(
        description="Cover of the outermost plait; null: there is none, or it lies over nothing."
    )
    angle_deg: float | None = Field(description="Its plait angle, degrees; null: there is none.")
    straight_squared_mm: float = Field(
        description="On the straight line in the diameter squared between the ends of the target, mm."
    )
    straight_mm: float = Field(description="On the straight line in the diameter between the same ends, mm.")


class PieceOut(Wire):
    """Pieces of a cord that are cut alike."""

    layer: int = Field(ge=1, description="The layer they are for, from 1, innermost.")
    cord: str = Field(description="Name of the cord.")
    pieces: int = Field(ge=1, description="How many.")
    length_mm: float = Field(description="Length to cut, mm, at the safe end and with tails.")
    middle_mm: float | None = Field(
        description="From the longer end to where it is folded at the heel, mm; null: it is one strand."
    )
    ends_mm: list[float] = Field(description="Where its strands end along the thong, mm from the datum.")


class CordTotalOut(Wire):
    """What is needed of one cord."""

    cord: str = Field(description="Name of the cord.")
    metres: float = Field(description="Length in all, m.")
    grams: float | None = Field(description="Its mass, g; null: no linear density is noted.")
    lacks_m: float | None = Field(description="What the stock lacks, m; null: no stock is noted.")
    price: float | None = Field(description="What it costs; null: no price is noted.")


class MissOut(Wire):
    """A stretch off the target by more than 0.5 mm or off the rule for the cover, or a core's blunt end."""

    code: Literal["off-target", "off-cover", "blunt-end"] = Field(description="What it misses.")
    from_mm: float = Field(description="Where it begins, mm from the datum.")
    to_mm: float = Field(description="Where it ends, mm.")
    at_mm: float = Field(description="Where it is furthest off, mm.")
    wanted_mm: float | None = Field(description="Wanted diameter there, mm; null: not off the target.")
    diameter_mm: float | None = Field(description="Predicted diameter there, mm; null: not off the target.")
    why: str | None = Field(
        description="What keeps the plan from it: plaited-already, fewest-strands, most-strands, one-drop, "
        "layer-end, cover, held-parallel, drop-spacing or rules; null: not off the target."
    )
    layer: int | None = Field(description="The layer it is about, from 1; null: the whip.")
    cover: float | None = Field(description="Its cover there; null: not off the cover.")
    rule: tuple[float, float] | None = Field(description="Least and most cover; null: not off the cover.")


class PlainOut(Wire):
    """The plain rule: the same strands dropped at even distances (common practice, no source)."""

    layers: list[PlannedLayerOut] = Field(description="The layers, innermost first.")
    misfit: float = Field(description="Root mean square misfit, in standard deviations of the prediction.")
    misfit_mm: float = Field(description="Root mean square misfit, mm.")


class ChoiceOut(Wire):
    """One of several good plans."""

    words: str = Field(
        description="What speaks for it, in words: as asked for, fewer drops, fewer cords, without a belly, "
        "other starts and ends; and whether it is closer to the target, or closest, in mm."
    )
    layers: list[PlannedLayerOut] = Field(description="The layers, innermost first.")
    misfit: float = Field(description="Root mean square misfit, in standard deviations of the prediction.")
    misfit_mm: float = Field(description="Root mean square misfit, mm.")
    drops: int = Field(ge=0, description="Number of drops in the planned layers.")
    weight_g: float | None = Field(
        description="Expected weight without fall and cracker, g; null: not known."
    )
    cord_totals: list[CordTotalOut] = Field(description="Totals by cord.")
    hours: float | None = Field(description="Expected hours of work; null: its layers are not known.")
    hours_low_90: float | None = Field(description="Lower end of their 90 % interval, hours.")
    hours_high_90: float | None = Field(description="Upper end of their 90 % interval, hours.")


class PlanOut(Wire):
    """A plan: drops of strands that follow the wanted diameters best; nothing of it is stored."""

    label: str = Field(description="What it is called.")
    maker: str | None = Field(description="Whose hands; null: any.")
    type: str | None = Field(description="Type of whip; null: not said.")
    datum: Literal["handle end"] = Field(description="Where places are counted from.")
    thong_length_mm: float = Field(description="Length of the thong, mm.")
    handle_length_mm: float | None = Field(description="Length of the handle, mm; null: not said.")
    handle_diameter_mm: float | None = Field(
        description="Diameter of the finished handle over everything, mm; null: not said."
    )
    foundation_mm: float | None = Field(
        description="Diameter of the foundation, mm; null: none, or not said."
    )
    layers: list[PlannedLayerOut] = Field(description="The layers, innermost first.")
    stations: list[PlannedStationOut] = Field(description="Every station of the grid.")
    misfit: float = Field(description="Root mean square misfit, in standard deviations of the prediction.")
    misfit_mm: float = Field(description="Root mean square misfit, mm.")
    drops: int = Field(ge=0, description="Number of drops in the planned layers.")
    cut: list[PieceOut] = Field(description="Every piece to cut.")
    cord_totals: list[CordTotalOut] = Field(description="Totals by cord.")
    weight_g: float | None = Field(
        description="Expected weight without fall and cracker, g; null: too little is known of a cord."
    )
    weight_low_90_g: float | None = Field(description="Lower end of its 90 % interval, g.")
    weight_high_90_g: float | None = Field(description="Upper end of its 90 % interval, g.")
    balance_mm: float | None = Field(
        description="Expected balance point, laid straight, mm from the butt; null: no handle length is said."
    )
    balance_low_90_mm: float | None = Field(description="Lower end of its 90 % interval, mm.")
    balance_high_90_mm: float | None = Field(description="Upper end of its 90 % interval, mm.")
    balance_from: Literal["butt"] = Field(description="Where the balance point is counted from.")
    hours: float | None = Field(description="Expected hours of work; null: its layers are not known.")
    hours_low_90: float | None = Field(description="Lower end of their 90 % interval, hours.")
    hours_high_90: float | None = Field(description="Upper end of their 90 % interval, hours.")
    plain: PlainOut | None = Field(description="The plain rule beside it; null: it cannot be told.")
    choices: list[ChoiceOut] = Field(
        description="Good plans side by side, this one first; empty where they were not wanted."
    )
    fit: int | None = Field(description="Number of the fit it rests on; null: none, it rests on geometry.")
    rests_on: str = Field(description="What it rests on, in words.")
    caution: str = Field(description="What to keep in mind.")
    misses: list[MissOut] = Field(
        description="Where it misses its target, the rule for the cover, or ends a core bluntly."
    )
    findings: list[Remark] = Field(description="Where it misses its target, and what else is worth knowing.")


class ReplanOut(PlanOut):
    """What lies ahead of a whip on the bench, planned again, with what is done as it is recorded."""

    point: str = Field(description="In words whether the wanted diameter at the point can be reached, mm.")
    readings: int = Field(ge=0, description="Readings of the whip that it rests on.")
    on_bench: int = Field(ge=1, description="The layer on the bench, from 1, innermost.")
    plaited_to_mm: float = Field(ge=0, description="How far it is plaited, mm from the datum.")
    change: Number | None = Field(
        description="Number of the change in the history; null: nothing was recorded, or nothing changed."
    )
