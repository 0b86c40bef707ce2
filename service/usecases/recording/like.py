"""A whip as the typed answers of a new one: "new like this", and "the same in another cord"."""

from dataclasses import replace
from typing import Final, Literal

from plaitlog.models.notation import print_schedule
from plaitlog.models.notation.text import print_number
from plaitlog.models.units import LengthUnit, parse_length, show_length
from plaitlog.models.whip import NONE, Layer, LayerCord, Whip
from plaitlog.service.usecases.recording.layers import letters_of
from plaitlog.service.usecases.recording.proposals import foundation_text, letters_of_whip
from plaitlog.service.usecases.shown_units import ShownUnits

Style = Literal["ft-in", "in fraction", "mm"]
LENGTHS: Final[tuple[tuple[str, Style], ...]] = (
    ("thong_length", "ft-in"),
    ("handle_length", "in fraction"),
    ("handle_diameter", "mm"),
)
NEAR_MM: Final = 0.01
ROUND: Final = 7
"""Characters of a number that somebody would type."""


def like(whip: Whip, units: ShownUnits, *, other_cord: bool = False) -> dict[str, str]:
    """What to type to record a whip made like another: all but label, day, and whatever was measured on it.

    other_cord : its cords and lots are left open.
    """
    found = {
        "type": whip.type or "",
        "maker": whip.maker or "",
        "datum": whip.datum or "",
        "quoted_length": whip.quoted_length or "",
        "foundation": foundation_text(whip),
        "finish": _words(whip.finish),
        "fall": whip.fall or "",
        "cracker": whip.cracker or "",
    }
    for key, style in LENGTHS:
        found[key] = _length(whip, key, style)
    if whip.handle_length_mm == 0:
        found["handle_length"] = NONE
    by_name = {name: letter for letter, name in letters_of_whip(whip).items()}
    named: dict[str, str] = {}
    place = 0
    for layer in whip.layers:
        line = layer_line(layer, by_name, units.lengths)
        if line is None:
            continue  # nothing is noted of it that a line could say
        place += 1
        found[f"layer.{place}"] = line
        for letter in letters_of(line):
            named[f"cord.{letter}"] = next(name for name, known in by_name.items() if known == letter)
        if layer.cords and layer.schedule is not None and not letters_of(line):
            named[f"cord.layer.{place}"] = layer.cords[0].cord
        if len(layer.cords) == 1 and layer.cords[0].lot is not None:
            named[f"lot.layer.{place}"] = layer.cords[0].lot
    if whip.layers_complete is not None and place == len(whip.layers):
        found["complete"] = "yes" if whip.layers_complete else "no"
    if not other_cord:
        found |= named
    return {key: text for key, text in found.items() if text}


def _length(whip: Whip, key: str, style: Style) -> str:
    """As it was typed, else as one would say it where that is what it measures, else in mm."""
    mm: float | None = getattr(whip, f"{key}_mm")
    if mm is None or key in whip.typed:
        return whip.typed.get(key, "")
    said = show_length(mm, style)
    return said if abs(parse_length(said) - mm) < NEAR_MM else f"{mm:g} mm"


def layer_line(layer: Layer, by_name: dict[str, str], unit: LengthUnit) -> str | None:
    """A layer as one types it: as it was typed, else printed with the letters of its whip's cords."""
    if layer.schedule is not None and layer.schedule.steps:
        text = layer.typed.get("strands")
        if text is None or any(letter not in by_name.values() for letter in letters_of(text)):
            cords = tuple(_lettered(cord, by_name) for cord in layer.cords)
            text = print_schedule(layer.schedule, unit, cords=cords, fate=layer.fate)
        return f"{layer.role} {text.removeprefix(f'{unit}:').strip()}"
    size = layer.diameter_mm if layer.diameter_mm is not None else layer.thickness_mm
    if size is None or layer.role in {"belly", "overlay"}:
        return None
    key = "thickness" if layer.diameter_mm is None else "diameter"
    parts = [layer.role, layer.typed.get(key) or f"{size:g} mm", layer.what or ""]
    for word, mm in (("from", layer.from_mm), ("to", layer.to_mm)):
        if mm is not None and (word, mm) != ("from", 0.0):
            parts.append(f"{word} {layer.typed.get(word) or _place(mm, unit)}")
    return " ".join(filter(None, parts))


def _place(mm: float, unit: LengthUnit) -> str:
    """A place in the unit where it is round in it, else in mm."""
    text = print_number(mm, unit)
    return f"{text} {unit}" if len(text) <= ROUND else f"{mm:g} mm"


def _lettered(cord: LayerCord, by_name: dict[str, str]) -> LayerCord:
    return replace(cord, letter=by_name.get(cord.cord))


def _words(finish: tuple[str, ...] | str | None) -> str:
    return ", ".join(finish) if isinstance(finish, tuple) else finish or ""
