"""The columns of the list of whips: what each is called, and how it shows a whip."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.whip_list import LATEST, SORTED_BY, WhipLine

Shown = Callable[[WhipLine, ShownUnits], str | None]


@dataclass(frozen=True, slots=True)
class Column:
    """``name`` stands above it, with the unit of diameters where it says {mm}; ``show`` gives its text.

    number : set to the right. long : may take several lines.
    """

    name: str
    show: Shown
    number: bool = False
    long: bool = False


def _diameter(mm: float | None, shown: ShownUnits) -> str | None:
    return None if mm is None else shown.diameter_number(mm)


def _number(value: float | None, shown: ShownUnits, digits: int) -> str | None:
    if value is None:
        return None
    return shown.number(f"{value:.{digits}f}")


def _length(line: WhipLine, shown: ShownUnits) -> str | None:
    return None if line.thong_length_mm is None else shown.long_length(line.thong_length_mm)


COLUMNS: Final[dict[str, Column]] = {
    "type": Column("type", lambda line, _: line.type),
    "maker": Column("maker", lambda line, _: line.maker),
    "status": Column("status", lambda line, _: line.status),
    "made_on": Column("made on", lambda line, _: line.made_on.isoformat() if line.made_on else None),
    "thong_length_mm": Column("thong", _length, number=True),
    "thick_mm": Column("thick end, {mm}", lambda line, shown: _diameter(line.thick_mm, shown), number=True),
    "point_mm": Column("point, {mm}", lambda line, shown: _diameter(line.point_mm, shown), number=True),
    "weight_g": Column("weight, g", lambda line, shown: _number(line.weight_g, shown, 0), number=True),
    "overall": Column("overall", lambda line, shown: _number(line.overall, shown, 1), number=True),
    "readings": Column("readings", lambda line, _: str(line.readings), number=True),
    "cords": Column("cords", lambda line, _: ", ".join(line.cords), long=True),
    "hours": Column("hours", lambda line, shown: _number(line.hours, shown, 1), number=True),
    "recorded": Column("recorded on", lambda line, _: line.recorded.date().isoformat()),
    "notes": Column("notes", lambda line, _: line.notes, long=True),
}
"""In their order; the label comes before all of them."""
USUAL: Final = tuple(key for key in COLUMNS if key not in {"recorded", "notes"})


def heading(key: str, shown: ShownUnits) -> str:
    """What stands above a column."""
    return "label" if key == "label" else COLUMNS[key].name.format(mm=shown.diameters)


def cell(line: WhipLine, key: str, shown: ShownUnits) -> dict[str, Any]:
    """One cell as data of a page; what is not noted is empty."""
    column = COLUMNS[key]
    kind = "n" if column.number else "" if column.long else "short"
    return {"name": heading(key, shown), "text": column.show(line, shown) or "", "kind": kind}


def named_in_order(shown: ShownUnits) -> list[list[str]]:
    """What the list can be sorted by, each with its name."""
    return [[key, "last recorded first" if key == LATEST else heading(key, shown)] for key in SORTED_BY]
