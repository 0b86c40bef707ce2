"""Reading columns of a notebook: one cell holds one reading, or two at right angles."""

from typing import Any

from plaitlog.models.units import DIAMETER, Quantity
from plaitlog.models.units_scan import plain_marks, scan_number
from plaitlog.service.usecases.spreadsheets.columns import Column
from plaitlog.service.usecases.spreadsheets.mapped import Mapped
from plaitlog.service.usecases.spreadsheets.one_cell import UNKNOWN, NumberForm, Pairs, as_text
from plaitlog.service.usecases.spreadsheets.sizes import BARE, read_size


def parts_of(cell: Any, mapped: Mapped) -> list[Any]:
    """The numbers of a cell: two where a notebook has readings at right angles."""
    if mapped.station is None or not isinstance(cell, str):
        return [cell]
    return [part.rstrip("? ") for part in _at_right_angles(cell.strip(), mapped.unit)]


def read_readings(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
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
        shape = {**where, **dict(read_size(value, size, form))}
        if part.endswith("?"):
            shape["doubtful"] = True
        found.append(("readings", shape))
    return found


def _place_keys(place: str) -> dict[str, Any]:
    """A station in mm as a number; in any other unit as text, so that it is shown again as noted."""
    number, _, unit = place.rpartition(" ")
    if unit == "mm" and BARE.fullmatch(number.replace(",", ".")):
        return {"at_mm": float(number.replace(",", "."))}
    return {"at": place}


def _size_column(key: str, quantity: Quantity) -> Column:
    return Column(f"{key}_mm", key, "size", quantity=quantity, text_key=key)


def _at_right_angles(text: str, unit: str | None) -> list[str]:
    """Two readings at right angles; nobody writes fractions of a millimetre."""
    parts = text.split("/")
    if len(parts) == 2 and (unit in ("mm", "cm") or any("." in part or "," in part for part in parts)):
        return [part.strip() for part in parts]
    return [text]
