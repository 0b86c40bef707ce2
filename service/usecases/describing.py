"""A whip in words: for the maker to check before it is kept, and to look up afterwards."""

import re
from collections.abc import Iterator
from typing import Final

from plaitlog.models.notation import echo_readings, echo_schedule, print_schedule
from plaitlog.models.units import LengthUnit, show_mass
from plaitlog.models.whip import NONE, Foundation, Layer, RatingSession, Whip
from plaitlog.service.usecases.missing.lacking import lacking
from plaitlog.service.usecases.rating_anchors import FELT
from plaitlog.service.usecases.shown_units import ShownUnits

MILLIMETRES: Final = ShownUnits("mm", "mm")


def describe(whip: Whip, shown: ShownUnits, *, readings: bool = True) -> list[str]:
    """The whip in lines of text: what is known, layers inside out in notation and in words."""
    read = _readings(whip, shown) if readings else ()
    return [*_head(whip, shown), *_layers(whip, shown), *read, *_measured(whip, shown), *_judged(whip)]


def _head(whip: Whip, shown: ShownUnits) -> Iterator[str]:
    about = [whip.type or "whip"]
    if whip.maker:
        about.append(f"by {whip.maker}")
    if whip.status:
        about.append(f"({whip.status})")
    if whip.made_on:
        about.append(f"made on {whip.made_on}")
    if whip.build_number is not None:
        about.append(f"number {whip.build_number}")
    yield f"{whip.label}: {' '.join(about)}"
    lengths = []
    if whip.thong_length_mm is not None:
        lengths.append(f"thong {shown.long_length(whip.thong_length_mm)}")
    if whip.datum:
        lengths.append(f"stations counted from the {whip.datum}")
    if whip.handle_length_mm is not None:
        lengths.append(
            f"handle {shown.length(whip.handle_length_mm)}" if whip.handle_length_mm else "no handle"
        )
    if whip.handle_diameter_mm is not None:
        lengths.append(f"{shown.diameter(whip.handle_diameter_mm)} over everything")
    if whip.quoted_length:
        lengths.append(f"quoted as {whip.quoted_length!r}")
    if lengths:
        yield "; ".join(lengths)
    if isinstance(whip.foundation, Foundation):
        found = whip.foundation
        ends = "the datum" if found.to_mm is None else shown.length(found.to_mm)
        yield f"foundation {shown.diameter(found.diameter_mm)}{_and(found.material)}, to {ends}"
    elif whip.foundation == NONE:
        yield "no foundation"


def _layers(whip: Whip, shown: ShownUnits) -> Iterator[str]:
    if not whip.layers:
        return
    yield "layers, inside out:"
    for place, layer in enumerate(whip.layers, start=1):
        for line in layer_lines(layer, shown):
            yield f"  {place} {line}" if not line.startswith(" ") else f"    {line}"


def layer_lines(layer: Layer, shown: ShownUnits) -> Iterator[str]:
    """One layer in notation, and below it in words."""
    if layer.schedule is None or not layer.schedule.steps:
        yield f"{layer.role}: {_given(layer, shown)}"
        return
    unit, line = notation(layer, shown)
    yield f"{layer.role}: {line}"
    yield f"  {echo_schedule(layer.schedule, unit, cords=layer.cords, fate=layer.fate)}"
    if not layer.cords:
        yield "  its cord is not noted"
    for cord in layer.cords:
        if cord.lot is not None:
            yield f"  {cord.cord} of lot {cord.lot}"


def notation(layer: Layer, shown: ShownUnits) -> tuple[LengthUnit, str]:
    """Unit and line of the schedule in notation: in the preferred unit where its places are round in it."""
    assert layer.schedule is not None
    lines: list[tuple[LengthUnit, str]] = []
    for unit in dict.fromkeys((shown.lengths, "in", "mm")):
        line = print_schedule(layer.schedule, unit, cords=layer.cords, fate=layer.fate)
        if not _LONG_DECIMALS.search(line):
            return unit, line
        lines.append((unit, line))
    return lines[0]


_LONG_DECIMALS: Final = re.compile(r"\.\d{4}")


def _given(layer: Layer, shown: ShownUnits) -> str:
    if layer.diameter_mm is not None:
        size = f"{shown.diameter(layer.diameter_mm)} in diameter"
    elif layer.thickness_mm is not None:
        size = f"{layer.thickness_mm:g} mm thick"
    else:
        return "its strands are not noted"
    begin = "" if layer.from_mm is None else f", from {shown.length(layer.from_mm)}"
    end = "" if layer.to_mm is None else f", to {shown.length(layer.to_mm)}"
    return f"{size}{_and(layer.what)}{begin}{end}"


def _and(text: str | None) -> str:
    return f", {text}" if text else ""


def _readings(whip: Whip, shown: ShownUnits) -> Iterator[str]:
    if whip.readings:
        words = echo_readings(whip.readings, shown.lengths, shown.diameters, layers=whip.layers)
        yield from words.splitlines()


def _measured(whip: Whip, shown: ShownUnits) -> Iterator[str]:
    for turn in whip.turn_lengths:
        yield f"one turn in {shown.length(turn.turn_mm)} at {shown.length(turn.at_mm)}"
    if whip.finish:
        yield f"finish: {whip.finish if isinstance(whip.finish, str) else ', '.join(whip.finish)}"
    for weight in whip.weights:
        parts = weight.with_parts
        beside = "" if parts is None else " bare" if parts == NONE else f" with {' and '.join(parts)}"
        upto = "" if weight.after_layer is None else f" after layer {weight.after_layer}"
        yield f"weighs {show_mass(weight.weight_g)}{beside}{upto}"
    if whip.balance is not None:
        yield (
            f"balances {shown.length(whip.balance.at_mm)} from the {whip.balance.counted_from}"
            f"{_and(whip.balance.how)}"
        )
    if whip.hours is not None:
        yield f"{whip.hours:g} hours of work"
    if whip.cord_used:
        yield "cord used: " + ", ".join(f"{use.metres:g} m of {use.cord}" for use in whip.cord_used)
    for part in ("fall", "cracker"):
        text = getattr(whip, part)
        if text:
            yield f"no {part}" if text == NONE else f"{part}: {text}"


def _judged(whip: Whip) -> Iterator[str]:
    for session in whip.ratings:
        yield rating_line(session)
    if whip.notes:
        yield f"notes: {whip.notes}"


def rating_line(session: RatingSession) -> str:
    """One rating session in a line."""
    who = f" by {session.by}" if session.by else ""
    when = f" on {session.on}" if session.on else ""
    use = "" if session.hours_of_use is None else f" after {session.hours_of_use:g} hours of use"
    scores = [
        f"{quality.replace('roll_out', 'roll-out')} {score if isinstance(score, str) else f'{score:g}'}"
        for quality, score in session.scores.items()
    ]
    beside = f" beside {session.compared_with}" if session.compared_with else ""
    feels = [f"{FELT[side][value > 0]} {abs(value):g}" for side, value in session.feel.items() if value]
    return f"rated{who}{when}{use}{beside}: {', '.join([*scores, *feels])}"


def missing(whip: Whip, shown: ShownUnits = MILLIMETRES) -> tuple[str, ...]:
    """What is not known of a whip, in words; what each of it would buy is told by ``fact_worth``."""
    return tuple(fact.words(shown) for fact in lacking(whip))
