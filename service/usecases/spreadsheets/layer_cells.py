"""Layers in cells: cords with shares and letters, line notation, steps, patterns."""

import re
from typing import Any, Final

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.usecases.spreadsheets.mapped import Mapped
from plaitlog.service.usecases.spreadsheets.one_cell import UNKNOWN, NumberForm, Pairs, as_json, as_text
from plaitlog.service.usecases.spreadsheets.texts import read_text

_COUNT: Final = re.compile(r"([0-9]{1,3})\s*(?:plait|strands?|pl\.?|str\.?)?", re.IGNORECASE)


def read_letters(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    text = as_text(cell).strip()
    if (listed := as_json(text, dict)) is not None:
        return [(mapped.column.key, listed)]
    found: dict[str, str] = {}
    for part in re.split(r"\s*;\s*", text):
        letter, _, cord = part.partition("=")
        if not cord.strip() or len(letter.strip()) != 1 or letter.strip() in found:
            raise InputError(
                Finding("letters", f"{part!r} names no cord by a letter", "write A=Ridge 4 mm; B=Fell 3 mm")
            )
        found[letter.strip()] = cord.strip()
    return [(mapped.column.key, found)]


def read_signs(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    """The letters of a layer's cords in their order: ``A + B``."""
    return [(mapped.column.key, [part.strip() for part in as_text(cell).split("+")])]


def read_cords(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    """One cord, or several with their shares: ``Ridge 4 mm (8) + Fell 3 mm (8)``."""
    text = as_text(cell).strip()
    if (name := read_text(text)) != text:
        return [(mapped.column.key, name)]
    if (listed := as_json(text, list)) is not None:
        return [(mapped.column.key, listed)]
    parts = [part for part in re.split(r"\s+\+\s+", text) if part]
    found = []
    for part in parts:
        shared = re.fullmatch(r"(.+?)\s*\(([0-9]+(?:[.,][0-9]+)?)\)", part)
        name = read_text(shared[1] if shared else part)
        found.append({"cord": name, **({"share": float(shared[2].replace(",", "."))} if shared else {})})
    if len(found) == 1 and "share" not in found[0]:
        return [(mapped.column.key, found[0]["cord"])]
    return [(mapped.column.key, found)]


def read_strands(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    """Line notation; a bare count is the number at the start, with the rest not noted."""
    text = as_text(cell).strip()
    if text.lower() in UNKNOWN:
        return []
    counted = _COUNT.fullmatch(text)
    if counted is not None:
        return [(mapped.column.key, f"mm: {counted[1]}; ?")]
    if mapped.unit in ("in", "mm", "cm") and not re.match(r"[a-z]{1,6}\s*:", text.lower()):
        text = f"{mapped.unit}: {text}"
    return [(mapped.column.key, text)]


def read_steps(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    text = as_text(cell).strip()
    listed = as_json(text, list)
    if listed is None:
        raise InputError(Finding("not-steps", f"{text!r} is no list of steps", "write [[0, 12], [700, 8]]"))
    return [(mapped.column.key, listed)]


def read_pattern(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    text = as_text(cell)
    listed = as_json(text.strip(), list)
    return [(mapped.column.key, read_text(text) if listed is None else listed)]


def read_stuff(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    return [(mapped.column.key, as_text(cell).strip())]
