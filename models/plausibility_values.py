"""Single values: sizes, dates and names that can be, as findings where they cannot."""

import datetime as dt
import math
from collections.abc import Iterable, Iterator
from difflib import get_close_matches

from plaitlog.models.errors import Finding, UnitError
from plaitlog.models.units import Quantity, check_value


def sized(value: float | None, quantity: Quantity, where: str) -> Iterator[Finding]:
    """The refusal of a size that is not finite, not a size, or absurd; none where it is not known."""
    if value is not None:
        try:
            check_value(value, quantity)
        except UnitError as error:
            yield error.finding.at(where)


def positive(
    value: float | None, where: str, quantity: Quantity | None = None, *, zero: bool = False
) -> Iterator[Finding]:
    """The refusal of a number that is not finite, or not above 0 (``zero``: 0 will do)."""
    if value is None:
        return
    if not math.isfinite(value) or value < 0 or (value == 0 and not zero):
        least = "0 or more" if zero else "above 0"
        yield Finding(
            "not-a-size", f"{value:g} is not {least}", f"give a number {least}, or leave it out", where
        )
    elif quantity is not None:
        yield from sized(value, quantity, where)


def not_in_future(day: dt.date | None, today: dt.date | None, where: str) -> Iterator[Finding]:
    """The refusal of a day in the future."""
    if day is not None and today is not None and day > today:
        yield Finding("date-future", f"{day} is in the future", f"give a date up to {today}", where)


def not_known(name: str, known: Iterable[str], what: str, where: str = "") -> Finding:
    """The refusal of a name that is not known, with the nearest ones that are."""
    names = list(known)
    near = get_close_matches(name, names, n=3, cutoff=0.6)
    remedy = f"did you mean {' or '.join(map(repr, near))}?" if near else f"add the {what} first"
    return Finding(f"{what}-unknown", f"there is no {what} {name!r}", remedy, where)
