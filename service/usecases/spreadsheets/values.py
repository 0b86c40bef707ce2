"""One cell to what it says in a record; what it cannot say is refused with the value as it stands."""

import re
from collections.abc import Callable, Mapping
from typing import Any, Final

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.units_scan import scan_unit
from plaitlog.models.whip import COMPARISONS, NONE, NOT_TRIED
from plaitlog.service.usecases.spreadsheets.days import read_day
from plaitlog.service.usecases.spreadsheets.layer_cells import (
    read_cords,
    read_letters,
    read_pattern,
    read_signs,
    read_steps,
    read_strands,
    read_stuff,
)
from plaitlog.service.usecases.spreadsheets.mapped import Mapped
from plaitlog.service.usecases.spreadsheets.notebook_readings import read_readings
from plaitlog.service.usecases.spreadsheets.one_cell import UNKNOWN, NumberForm, Pairs, as_json, as_text
from plaitlog.service.usecases.spreadsheets.sizes import BARE, read_size
from plaitlog.service.usecases.spreadsheets.texts import read_text

_YES: Final = frozenset({"yes", "y", "true", "x", "1", "\u2713", "\u2714"})
_NO: Final = frozenset({"no", "n", "false", "0"})
_WORDS: Final = re.compile(r"\s*[,;+]\s*|\s+and\s+")
_SPELT: Final[Mapping[str, str]] = {
    "roll out": "roll_out", "on bench": "on the bench", "in work": "on the bench", "done": "finished",
    "complete": "finished", "completed": "finished", "handle": "handle end", "handle-end": "handle end",
    "gutless": "gutted", "hollow": "gutted", "sheath": "gutted", "sheath only": "gutted",
    "with core": "cored", "kernmantle": "cored", "second belly": "belly", "2nd belly": "belly",
    "first belly": "belly", "1st belly": "belly", "belly 1": "belly", "belly 2": "belly",
    "outer": "overlay", "outer plait": "overlay", "used": "broken in", "brokenin": "broken in",
    "broken-in": "broken in", "new": "fresh",
}  # fmt: skip


def read_cell(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    """What a cell that is not blank says.

    Raises
    ------
    InputError
        Whose finding quotes the cell.
    """
    return _WAYS[mapped.column.way](cell, mapped, form)


def _typed(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    return [(mapped.column.key, read_text(as_text(cell)))]


def _text(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    return [(mapped.column.key, read_text(as_text(cell)))]


def _word(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    word = " ".join(as_text(cell).replace("_", " ").split()).lower()
    if word in UNKNOWN:
        return []
    return [(mapped.column.key, _SPELT.get(word, word))]


def _number(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        return [(mapped.column.key, cell)]
    text = as_text(cell).strip()
    if text.lower() in UNKNOWN:
        return []
    plain = form.number(text)
    if mapped.column.key.endswith("metres"):
        unit, end = scan_unit(plain, len(plain) - len(plain.lstrip("0123456789.")))
        if unit == "m" and end == len(plain):
            plain = plain[: len(plain) - len(plain.lstrip("0123456789."))]
    if not BARE.fullmatch(plain):
        raise InputError(Finding("not-a-number", f"{text!r} is not a number", "write a number like 11.5"))
    return [(mapped.column.key, float(plain))]


def _whole(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    found = _number(cell, mapped, form)
    if found and not float(found[0][1]).is_integer():
        raise InputError(
            Finding("not-a-whole-number", f"{as_text(cell)!r} is not a whole number", "write one like 2")
        )
    return [(key, int(value)) for key, value in found]


def _score(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    text = " ".join(as_text(cell).lower().replace("-", " ").split())
    if text in (NOT_TRIED, "untried", "n/t", "nt"):
        return [(mapped.column.key, NOT_TRIED)]
    if text in COMPARISONS:
        return [(mapped.column.key, text)]
    return _number(cell, mapped, form)


def _day(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    if isinstance(cell, str) and cell.strip().lower() in UNKNOWN:
        return []
    return [(mapped.column.key, read_day(cell))]


def _yes(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    text = as_text(cell).strip().lower()
    if text in UNKNOWN:
        return []
    if text not in _YES | _NO:
        raise InputError(Finding("not-yes-or-no", f"{text!r} is neither yes nor no", "write yes or no"))
    return [(mapped.column.key, text in _YES)]


def _words(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    text = as_text(cell).strip()
    if text.lower() == NONE:
        return [(mapped.column.key, NONE)]
    if (listed := as_json(text, list)) is not None:
        return [(mapped.column.key, listed)]
    return [(mapped.column.key, [word for word in _WORDS.split(text) if word])]


def _document(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    found = as_json(as_text(cell).strip(), dict)
    if found is None:
        raise InputError(
            Finding("not-a-plan", "it is no plan as an export writes it", "leave the column out")
        )
    return [(mapped.column.key, found)]


_WAYS: Final[Mapping[str, Callable[[Any, Mapped, NumberForm], Pairs]]] = {
    "size": read_size,
    "typed": _typed,
    "text": _text,
    "word": _word,
    "number": _number,
    "whole": _whole,
    "score": _score,
    "feel": _number,
    "day": _day,
    "yes": _yes,
    "words": _words,
    "letters": read_letters,
    "signs": read_signs,
    "cords": read_cords,
    "strands": read_strands,
    "steps": read_steps,
    "pattern": read_pattern,
    "reading": read_readings,
    "stuff": read_stuff,
    "document": _document,
}
