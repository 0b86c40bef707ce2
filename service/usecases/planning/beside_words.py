"""A whip beside its plan, in words and rows."""

from collections.abc import Iterator, Mapping
from typing import Final

from plaitlog.models.units import show_mass
from plaitlog.models.whip import NONE, Layer, Whip
from plaitlog.service.usecases.describing import layer_lines
from plaitlog.service.usecases.planning.beside_plan import BesideLine, BesidePlan, Reason
from plaitlog.service.usecases.shown_units import ShownUnits

HEADS: Final = ("at", "wanted", "planned", "90 %", "measured", "off", "of which")
WORDS: Final[Mapping[Reason, str]] = {
    "fit": "the fit since",
    "condition": "condition",
    "strands": "other strands",
    "inner": "layers inside",
    "rest": "the rest",
}
TOLD_MM: Final = 0.05
"""A part smaller than this is not told: it would be 0.0."""


def summary(found: BesidePlan, shown: ShownUnits) -> Iterator[str]:
    """How many readings came out as planned, on average how far off, and what had most to do with it."""
    rests_on = f" ({found.kept.rests_on})" if found.kept.rests_on else ""
    yield f"Beside its plan{rests_on}:"
    lines = [line for line in found.lines if line.after_layer is None and not line.doubtful]
    if not lines:
        yield "  no reading of the finished whip lies where something was planned"
        return
    inside = sum(line.inside for line in lines)
    mean = sum(line.off_mm for line in lines) / len(lines)
    word = "thicker" if mean > 0 else "thinner"
    average = f"{shown.diameter(abs(mean))} {word}" if abs(mean) >= TOLD_MM else "as planned"
    yield (
        f"  {inside} of {len(lines)} finished readings lie in the 90 % interval that was planned; on average "
        f"{average}"
    )
    apart = [line.parts_mm for line in lines if line.parts_mm]
    if apart:
        means = {reason: sum(one[reason] for one in apart) / len(apart) for reason in WORDS}
        yield f"  of which on average {_parts(means, shown) or 'no part worth telling'}"


def layers_otherwise(found: BesidePlan, whip: Whip, shown: ShownUnits) -> Iterator[str]:
    """Layers that are recorded otherwise than they were planned."""
    if len(found.planned) != len(whip.layers):
        yield f"  {len(whip.layers)} layers are recorded, {len(found.planned)} were planned"
    for place, (planned, made) in enumerate(zip(found.planned, whip.layers, strict=False), start=1):
        if _what_counts(planned) != _what_counts(made):
            yield f"  layer {place} planned as {_line(planned, shown)}"
            yield f"    recorded as {_line(made, shown)}"


def cells(line: BesideLine, shown: ShownUnits) -> tuple[str, ...]:
    """One reading in a row of the table ``HEADS``."""
    on = "" if line.after_layer is None else f", layer {line.after_layer}"
    return (
        f"{shown.length(line.at_mm)}{on}",
        "" if line.target_mm is None else shown.diameter(line.target_mm),
        shown.diameter(line.planned_mm),
        shown.interval(line.low_90_mm, line.high_90_mm),
        f"{shown.diameter(line.measured_mm)}{'?' if line.doubtful else ''}",
        f"{_signed(line.off_mm, shown)}{'' if line.inside else ' outside'}",
        _parts(line.parts_mm, shown),
    )


def whole(found: BesidePlan, whip: Whip, shown: ShownUnits) -> Iterator[str]:
    """Weight, balance point, cord and hours, measured beside planned."""
    kept = found.kept
    weight = next((one for one in whip.weights if one.after_layer is None), None)
    if weight is not None and kept.weight_g is not None:
        parts = weight.with_parts
        hung = "what hung on it is not noted" if parts is None else "bare" if parts == NONE else ""
        hung = f"with {' and '.join(parts)}" if isinstance(parts, tuple) else hung
        low, high = kept.weight_low_90_g or kept.weight_g, kept.weight_high_90_g or kept.weight_g
        yield (
            f"  weighs {show_mass(weight.weight_g)} ({hung}); planned {show_mass(kept.weight_g)} without "
            f"fall and cracker (90 %: {show_mass(low)} to {show_mass(high)})"
        )
    if whip.balance is not None and kept.balance_mm is not None:
        low, high = kept.balance_low_90_mm or kept.balance_mm, kept.balance_high_90_mm or kept.balance_mm
        spread = f"{shown.length(low)} to {shown.length(high)}"
        yield (
            f"  balances at {shown.length(whip.balance.at_mm)} from the {whip.balance.counted_from}; planned "
            f"{shown.length(kept.balance_mm)} from the butt (90 %: {spread})"
        )
    to_cut = {one.cord: one.metres for one in kept.cord_totals or ()}
    for use in whip.cord_used:
        if use.cord in to_cut:
            yield f"  took {use.metres:g} m of {use.cord}; {to_cut[use.cord]:g} m were to be cut"
    if whip.hours is not None and kept.hours is not None:
        yield f"  took {whip.hours:g} hours of work; {kept.hours:g} were planned"


def _parts(parts_mm: Mapping[Reason, float], shown: ShownUnits) -> str:
    return ", ".join(
        f"{WORDS[reason]} {_signed(mm, shown)}" for reason, mm in parts_mm.items() if abs(mm) >= TOLD_MM
    )


def _signed(mm: float, shown: ShownUnits) -> str:
    number = shown.diameter_number(abs(mm))
    return f"{'-' if mm < 0 else '+'}{number}" if number.strip("0.,") else number


def _what_counts(layer: Layer) -> tuple[object, ...]:
    """What of a layer changes the diameter."""
    schedule = layer.schedule
    steps = schedule and tuple((x.place.low_mm, x.place.high_mm, x.total) for x in schedule.steps)
    cords = tuple((one.cord, one.share) for one in layer.cords)
    sizes = (layer.diameter_mm, layer.thickness_mm, layer.from_mm, layer.to_mm)
    return layer.role, cords, steps, sizes, layer.fate


def _line(layer: Layer, shown: ShownUnits) -> str:
    return next(layer_lines(layer, shown))
