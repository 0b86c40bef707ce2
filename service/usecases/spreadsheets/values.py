"""One cell to what it says in a record; what it cannot say is refused with the value as it stands."""

import datetime as dt
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.units import DIAMETER, Quantity
from plaitlog.models.units_scan import G_PER, MM_PER, plain_marks, scan_number, scan_unit
from plaitlog.models.whip import NONE, NOT_TRIED
from plaitlog.service.usecases.spreadsheets.days import read_day
from plaitlog.service.usecases.spreadsheets.layout import Mapped
from plaitlog.service.usecases.spreadsheets.numbers import Mark, plain_number
from plaitlog.service.usecases.spreadsheets.texts import read_text

Pairs = list[tuple[str, Any]]
"""Keys of a record with their values; none where the cell says nothing."""

UNKNOWN: Final = frozenset({"?", "-", "--", "_", "\u2013", "\u2014", "n/a", "na", "not noted", "unknown"})
"""What a maker writes in the cell of a number that is not known."""
_YES: Final = frozenset({"yes", "y", "true", "x", "1", "\u2713", "\u2714"})
_NO: Final = frozenset({"no", "n", "false", "0"})
_WORDS: Final = re.compile(r"\s*[,;+]\s*|\s+and\s+")
_BARE: Final = re.compile(r"-?[0-9]*\.?[0-9]+|-?[0-9]+\.")
_COUNT: Final = re.compile(r"([0-9]{1,3})\s*(?:plait|strands?|pl\.?|str\.?)?", re.IGNORECASE)
_SPELT: Final[Mapping[str, str]] = {
    "roll out": "roll_out", "on bench": "on the bench", "in work": "on the bench", "done": "finished",
    "complete": "finished", "completed": "finished", "handle": "handle end", "handle-end": "handle end",
    "gutless": "gutted", "hollow": "gutted", "sheath": "gutted", "sheath only": "gutted",
    "with core": "cored", "kernmantle": "cored", "second belly": "belly", "2nd belly": "belly",
    "first belly": "belly", "1st belly": "belly", "belly 1": "belly", "belly 2": "belly",
    "outer": "overlay", "outer plait": "overlay", "used": "broken in", "brokenin": "broken in",
    "broken-in": "broken in", "new": "fresh",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reading:
    """How the cells of one file are read: its decimal mark, and whether semicolons part its cells."""

    mark: Mark | None = None
    semicolons: bool = False

    def number(self, text: str) -> str:
        return plain_number(text, self.mark, self.semicolons)


def is_blank(cell: object) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def read_cell(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    """What a cell that is not blank says.

    Raises
    ------
    InputError
        Whose finding quotes the cell.
    """
    return _WAYS[mapped.column.way](cell, mapped, reading)


def as_text(cell: Any) -> str:
    """A cell as text: numbers as short as they can be, without the noise of binary fractions."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return number_text(cell)
    if isinstance(cell, dt.datetime) and cell.time() == dt.time():
        return cell.date().isoformat()
    return str(cell)


def number_text(value: float) -> str:
    """15 digits are what a spreadsheet program shows; what differs beyond is noise of its arithmetic."""
    short = f"{value:.15g}"
    text = repr(value) if "e" in short else short
    return text.removesuffix(".0")


def _size(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    column, unit = mapped.column, mapped.unit
    quantity = column.quantity
    assert quantity is not None
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        if unit == quantity.stored:
            return [(column.key, cell)]
        return [(column.text_key, f"{number_text(float(cell))} {_needed(unit, as_text(cell), quantity)}")]
    if not isinstance(cell, str):
        raise InputError(
            Finding("not-a-size", f"{as_text(cell)!r} is not a {quantity.name}", "write a number")
        )
    text = cell.strip()
    if text.lower() in UNKNOWN:
        return []
    if text.lower() in ("none", "no"):
        nothing = column.key.split(".")[0] if column.key.startswith("foundation") else column.key
        return [(nothing, NONE)]
    plain = reading.number(text)
    if _BARE.fullmatch(plain):
        if _needed(unit, text, quantity) == quantity.stored:
            return [(column.key, float(plain))]
        return [(column.text_key, f"{plain} {unit}")]
    marks = plain_marks(plain).strip()
    number = scan_number(marks)
    if number is not None and number.end == len(marks):
        return [(column.text_key, f"{plain} {_needed(unit, text, quantity)}")]
    return [(column.text_key, plain)]


def _needed(unit: str | None, text: str, quantity: Quantity) -> str:
    if unit is not None:
        return unit
    number = scan_number(plain_marks(text))
    value = 0.0 if number is None else float(number.value)
    low, high = quantity.usual
    likely = [name for name, factor in quantity.units.items() if low <= value * float(factor) <= high]
    names = (likely or list(quantity.units))[:2]
    key = {"mass": "weight"}.get(quantity.name, quantity.name)
    raise InputError(
        Finding(
            "unit-missing",
            f"no unit in {text!r}, nor in the header",
            f"write {' or '.join(repr(f'{text} {name}') for name in names)},"
            f' or say --units "{key}={names[0]}" for the whole table',
        )
    )


def usual_units(low: float, high: float, quantity: Quantity) -> list[str]:
    """The units in which all numbers from ``low`` to ``high`` are usual ones on a whip."""
    least, most = quantity.usual
    first = high if quantity.zero else low  # a station may lie near 0: the furthest tells
    return [
        name
        for name, factor in quantity.units.items()
        if least <= first * float(factor) and high * float(factor) <= most
    ]


def parts_of(cell: Any, mapped: Mapped) -> list[Any]:
    """The numbers of a cell: two where a notebook has readings at right angles."""
    if mapped.station is None or not isinstance(cell, str):
        return [cell]
    return [part.rstrip("? ") for part in _at_right_angles(cell.strip(), mapped.unit)]


def bare_number(cell: Any, reading: Reading) -> float | None:
    """The value of a cell that holds a number and no unit; None for any other."""
    if isinstance(cell, bool) or cell is None:
        return None
    if isinstance(cell, int | float):
        return float(cell)
    try:
        plain = reading.number(str(cell))
    except InputError:
        return None
    marks = plain_marks(plain).strip().rstrip("?")
    number = scan_number(marks)
    return float(number.value) if number is not None and number.end == len(marks) else None


def _typed(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    return [(mapped.column.key, read_text(as_text(cell)))]


def _text(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    return [(mapped.column.key, read_text(as_text(cell)))]


def _word(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    word = " ".join(as_text(cell).replace("_", " ").split()).lower()
    if word in UNKNOWN:
        return []
    return [(mapped.column.key, _SPELT.get(word, word))]


def _number(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        return [(mapped.column.key, cell)]
    text = as_text(cell).strip()
    if text.lower() in UNKNOWN:
        return []
    plain = reading.number(text)
    if mapped.column.key.endswith("metres"):
        unit, end = scan_unit(plain, len(plain) - len(plain.lstrip("0123456789.")))
        if unit == "m" and end == len(plain):
            plain = plain[: len(plain) - len(plain.lstrip("0123456789."))]
    if not _BARE.fullmatch(plain):
        raise InputError(Finding("not-a-number", f"{text!r} is not a number", "write a number like 11.5"))
    return [(mapped.column.key, float(plain))]


def _whole(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    found = _number(cell, mapped, reading)
    if found and not float(found[0][1]).is_integer():
        raise InputError(
            Finding("not-a-whole-number", f"{as_text(cell)!r} is not a whole number", "write one like 2")
        )
    return [(key, int(value)) for key, value in found]


def _score(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    text = " ".join(as_text(cell).lower().replace("-", " ").split())
    if text in (NOT_TRIED, "untried", "n/t", "nt"):
        return [(mapped.column.key, NOT_TRIED)]
    return _number(cell, mapped, reading)


def _day(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    if isinstance(cell, str) and cell.strip().lower() in UNKNOWN:
        return []
    return [(mapped.column.key, read_day(cell))]


def _yes(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    text = as_text(cell).strip().lower()
    if text in UNKNOWN:
        return []
    if text not in _YES | _NO:
        raise InputError(Finding("not-yes-or-no", f"{text!r} is neither yes nor no", "write yes or no"))
    return [(mapped.column.key, text in _YES)]


def _words(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    text = as_text(cell).strip()
    if text.lower() == NONE:
        return [(mapped.column.key, NONE)]
    if (listed := _json(text, list)) is not None:
        return [(mapped.column.key, listed)]
    return [(mapped.column.key, [word for word in _WORDS.split(text) if word])]


def _letters(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    text = as_text(cell).strip()
    if (listed := _json(text, dict)) is not None:
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


def _signs(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    """The letters of a layer's cords in their order: ``A + B``."""
    return [(mapped.column.key, [part.strip() for part in as_text(cell).split("+")])]


def _cords(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    """One cord, or several with their shares: ``Ridge 4 mm (8) + Fell 3 mm (8)``."""
    text = as_text(cell).strip()
    if (name := read_text(text)) != text:
        return [(mapped.column.key, name)]
    if (listed := _json(text, list)) is not None:
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


def _strands(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
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


def _steps(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    text = as_text(cell).strip()
    listed = _json(text, list)
    if listed is None:
        raise InputError(Finding("not-steps", f"{text!r} is no list of steps", "write [[0, 12], [700, 8]]"))
    return [(mapped.column.key, listed)]


def _pattern(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    text = as_text(cell)
    listed = _json(text.strip(), list)
    return [(mapped.column.key, read_text(text) if listed is None else listed)]


def _stuff(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    return [(mapped.column.key, as_text(cell).strip())]


def _readings(cell: Any, mapped: Mapped, reading: Reading) -> Pairs:
    """One reading column of a notebook: ``17.9``, ``17.9/17.7`` at right angles, ``14.1?``, ``_``."""
    station, quantity = mapped.station, mapped.column.quantity
    assert station is not None
    assert quantity is not None
    key = "diameter" if quantity is DIAMETER else "girth"
    place = station.station if station.place is None else station.place
    if station.place is None and scan_number(plain_marks(place)) is not None and station.unit is not None:
        marks = plain_marks(place).strip()
        number = scan_number(marks)
        if number is not None and number.end == len(marks):
            place = f"{place} {station.unit}"
    text = as_text(cell).strip()
    if text.lower() in UNKNOWN:
        return []
    found: Pairs = []
    for part in _at_right_angles(text, mapped.unit):
        bare = part.rstrip("?").strip()
        if bare.lower() in UNKNOWN | {""}:
            continue
        size = Mapped(mapped.index, mapped.header, _size_column(key, quantity), mapped.unit)
        value = cell if part == text and not isinstance(cell, str) else bare
        where = {"place": place} if station.place is not None else _place_keys(place)
        shape = {**where, **dict(_size(value, size, reading))}
        if part.endswith("?"):
            shape["doubtful"] = True
        found.append(("readings", shape))
    return found


def _place_keys(place: str) -> dict[str, Any]:
    """A station in mm as a number; in any other unit as text, so that it is shown again as noted."""
    number, _, unit = place.rpartition(" ")
    if unit == "mm" and _BARE.fullmatch(number.replace(",", ".")):
        return {"at_mm": float(number.replace(",", "."))}
    return {"at": place}


def _size_column(key: str, quantity: Quantity) -> Any:
    from plaitlog.service.usecases.spreadsheets.columns import Column

    return Column(f"{key}_mm", key, "size", quantity=quantity, text_key=key)


def _at_right_angles(text: str, unit: str | None) -> list[str]:
    """Two readings at right angles; nobody writes fractions of a millimetre."""
    parts = text.split("/")
    if len(parts) == 2 and (unit in ("mm", "cm") or any("." in part or "," in part for part in parts)):
        return [part.strip() for part in parts]
    return [text]


def _json(text: str, kind: type) -> Any:
    if not text.startswith(("[", "{")):
        return None
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, kind) else None


_WAYS: Final[Mapping[str, Callable[[Any, Mapped, Reading], Pairs]]] = {
    "size": _size,
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
    "letters": _letters,
    "signs": _signs,
    "cords": _cords,
    "strands": _strands,
    "steps": _steps,
    "pattern": _pattern,
    "reading": _readings,
    "stuff": _stuff,
}
KNOWN_UNITS: Final = frozenset({*MM_PER, *G_PER})
