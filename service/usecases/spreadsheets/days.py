"""Dates in cells: ISO, day.month.year, months by name; what can be two days is refused."""

import datetime as dt
import re
from typing import Final

from plaitlog.models.errors import Finding, InputError

_MONTHS: Final = (
    "jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec",
)  # fmt: skip
_YEAR_FIRST: Final = re.compile(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})(?:[T ]00:00(?::00)?)?")
_YEAR_LAST: Final = re.compile(r"([0-9]{1,2})([-/.]) ?([0-9]{1,2})\2 ?([0-9]{4})")
_NAMED: Final = re.compile(r"([0-9]{1,2})(?:st|nd|rd|th)?[-. ]+([a-z]{3,9})\.?,?[- ]+([0-9]{4})")
_NAME_FIRST: Final = re.compile(r"([a-z]{3,9})\.? +([0-9]{1,2})(?:st|nd|rd|th)?,? +([0-9]{4})")


def read_day(cell: object) -> str:
    """The day as ISO text.

    Raises
    ------
    InputError
        Where the cell is no day, or could be two.
    """
    if isinstance(cell, dt.datetime):
        return cell.date().isoformat()
    if isinstance(cell, dt.date):
        return cell.isoformat()
    text = str(cell).strip()
    plain = text.lower()
    if found := _YEAR_FIRST.fullmatch(plain):
        return _day(int(found[1]), int(found[2]), int(found[3]), text)
    if found := _YEAR_LAST.fullmatch(plain):
        first, second, year = int(found[1]), int(found[3]), int(found[4])
        if found[2] == "." or first > 12 or first == second:
            return _day(year, second, first, text)
        if second > 12:
            return _day(year, first, second, text)
        raise InputError(
            Finding(
                "date-ambiguous",
                f"{text!r} can be {_day(year, first, second, text)} or {_day(year, second, first, text)}",
                "write it like 2026-03-02, or 02.03.2026 for day, month, year",
            )
        )
    if found := _NAMED.fullmatch(plain):
        return _day(int(found[3]), _month(found[2], text), int(found[1]), text)
    if found := _NAME_FIRST.fullmatch(plain):
        return _day(int(found[3]), _month(found[1], text), int(found[2]), text)
    raise _not_a_day(text)


def _month(name: str, text: str) -> int:
    if name[:3] not in _MONTHS:
        raise _not_a_day(text)
    return _MONTHS.index(name[:3]) + 1


def _day(year: int, month: int, day: int, text: str) -> str:
    try:
        return dt.date(year, month, day).isoformat()
    except ValueError:
        raise _not_a_day(text) from None


def _not_a_day(text: str) -> InputError:
    remedy = "write it like 2026-03-02, or 02.03.2026 for day, month, year"
    return InputError(Finding("not-a-date", f"{text!r} is not a date", remedy))
