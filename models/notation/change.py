"""What changes at one step of a layer, read: ``-2 each 4 to 8 tuck 3``, ``=8A+8B u2o2u2o2``, ``end``."""

import re
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from plaitlog.models.notation.counts import CordsInPlay, Counts, Delta, take_counts, take_delta
from plaitlog.models.notation.fate import take_fate
from plaitlog.models.notation.place import Where
from plaitlog.models.notation.text import Cursor
from plaitlog.models.whip import Fate

_EQUALS: Final = re.compile(r"=")
_END: Final = re.compile(r"end(?![A-Za-z])", re.IGNORECASE)
_EACH: Final = re.compile(r"(?:each|every)(?![A-Za-z])", re.IGNORECASE)
_TO: Final = re.compile(r"to ?([0-9]{1,4})(?![A-Za-z0-9]|[.,][0-9])", re.IGNORECASE)
_TIMES: Final = re.compile(r"x ?([0-9]{1,3})(?![A-Za-z0-9]|[.,][0-9])", re.IGNORECASE)
_PATTERN: Final = re.compile(r"((?:[uo][0-9]{1,2})+)(?![A-Za-z0-9])", re.IGNORECASE)
_UNKNOWN: Final = re.compile(r"\?")
_MOST_REPEATS: Final = 200


@dataclass(slots=True)
class Change:
    """What stands behind the place of one step; ``fate`` is the one held from there on."""

    fate: Fate | None
    counts: Counts | None = None
    deltas: list[Delta] = field(default_factory=list)
    ends: bool = False
    spacing: Fraction | None = None
    down_to: int | None = None
    times: int | None = None
    pattern: str | None = None

    @property
    def says_nothing(self) -> bool:
        return self.counts is None and not self.deltas and not self.ends and self.pattern is None


def read_change(body: Cursor, play: CordsInPlay, running: Counts, fate: Fate | None) -> Change:
    """Everything up to the end of the cursor; ``running`` are the counts and ``fate`` the fate before."""
    says = Change(fate)
    start = body.pos
    while not body.done():
        here = body.pos
        if delta := take_delta(body, play):
            says.deltas.append(delta)
        elif body.take(_END):
            says.ends = True
        elif body.take(_EACH):
            _read_repeat(body, says, here)
        elif found := body.take(_PATTERN):
            says.pattern = (says.pattern or "") + found[1].lower()
        elif body.take(_UNKNOWN):
            says.fate = None
        elif found_fate := take_fate(body, says.fate):
            says.fate = found_fate
        else:
            equals = body.take(_EQUALS)
            counts = take_counts(body, play, running)
            if counts is None:
                code = "count-unreadable" if equals else "step-unreadable"
                raise body.refuse(
                    code, "cannot be read here", "write a change like -2, =12, end, cut, tuck 3 or u2o2", here
                )
            if says.counts is not None:
                raise body.refuse("count-twice", "is a second count", "join the cords: 8A+8B", here)
            says.counts = counts
    if sum((bool(says.deltas), says.counts is not None, says.ends)) > 1:
        raise body.refuse("change-twice", "says two changes at one place", "keep one of them", start)
    if says.says_nothing:
        raise body.refuse("change-missing", "does not say what changes", "write -2, +2, =12 or end", start)
    return says


def _read_repeat(body: Cursor, says: Change, start: int) -> None:
    says.spacing = body.length()
    if not says.spacing:
        raise body.refuse("each-spacing", "has no spacing above 0", "write each 4 to 8, or each 4 x3", start)
    if found := body.take(_TO):
        says.down_to = int(found[1])
    elif found := body.take(_TIMES):
        says.times = int(found[1])
    else:
        raise body.refuse("each-open", "does not say how far", "write each 4 to 8, or each 4 x3", start)


def repeated(piece: Cursor, places: list[Where], says: Change, running: Counts) -> list[Where]:
    """The places of a repeated change, the first at the stated place."""
    assert says.spacing is not None
    if len(places) > 1 or places[0].kind == "not noted":
        raise piece.refuse("each-place", "repeats from no single known place", "give one place before ':'")
    if not says.deltas:
        raise piece.refuse("each-change", "repeats no change like -2", "write -2 each 4 to 8")
    times = says.times
    if says.down_to is not None:
        times = _times_to(piece, says, running)
    if not times or times > _MOST_REPEATS:
        raise piece.refuse("each-times", "repeats never or too often", f"repeat 1 to {_MOST_REPEATS} times")
    return [places[0].moved(says.spacing * n) for n in range(times)]


def _times_to(piece: Cursor, says: Change, running: Counts) -> int:
    by = sum(delta.strands for delta in says.deltas)
    total = sum(count.low for count in running.values())
    if not all(count.exact for count in running.values()):
        raise piece.refuse("each-range", "counts down from a range", "write how often instead: each 4 x3")
    times, left_over = divmod(Fraction(says.down_to or 0) - Fraction(total), by or 1)
    if left_over or times < 1 or not by:
        raise piece.refuse(
            "each-misses",
            f"never makes {total:g} strands {says.down_to}",
            "check the count, the change and the aim",
        )
    return int(times)
