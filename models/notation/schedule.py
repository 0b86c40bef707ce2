"""One layer in the line notation, read: ``in: 16A; 30: -2 each 4 to 8 tuck 3; p``."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Final

from plaitlog.models.errors import Finding
from plaitlog.models.notation.change import read_change, repeated
from plaitlog.models.notation.counts import CordsInPlay, Counts, changed, cords_in_play
from plaitlog.models.notation.place import NOT_NOTED, Where, take_places
from plaitlog.models.notation.text import Cursor, open_line
from plaitlog.models.units import LENGTH_LIMIT_MM, LengthUnit
from plaitlog.models.whip import Fate, LayerCord, Rest, Step, StrandSchedule, exactly

CLOSINGS: Final = ("p", "end", "?")


@dataclass(frozen=True, slots=True)
class ScheduleLine:
    """What one line says of a layer.

    ``fate`` is that of every dropped strand where one holds for all of them (then no step repeats it);
    ``unit`` is the one the line declares; ``cords`` are in the order of the counts of every step.
    """

    text: str
    unit: LengthUnit | None
    cords: tuple[LayerCord, ...]
    schedule: StrandSchedule
    fate: Fate | None
    findings: tuple[Finding, ...]


@dataclass(slots=True)
class _Line:
    """The steps read so far."""

    play: CordsInPlay
    point_mm: float | None
    running: Counts = field(default_factory=dict)
    fate: Fate | None = None
    fate_said: Fate | None = None
    last: Where | None = None
    steps: list[tuple[Where, Counts, Fate | None, str | None]] = field(default_factory=list)

    def add(self, cursor: Cursor, where: Where, counts: Counts, pattern: str | None) -> None:
        known = where.kind != "not noted"
        if known and self.last is not None and not where.place().follows(self.last.place()):
            comma = "; the comma is the decimal mark" if "," in cursor.text[cursor.pos :] else ""
            raise cursor.refuse(
                "steps-unordered",
                "lies no further on than the step before",
                f"write the steps from the handle to the point, one for each place{comma}",
            )
        drops = any(counts[x].low < was.low or counts[x].high < was.high for x, was in self.running.items())
        self.steps.append((where, counts, self.fate if drops else None, pattern))
        self.running = counts
        if known:
            self.last = where


def parse_schedule(
    text: str,
    *,
    letters: Mapping[str, str] | None = None,
    cords: Sequence[LayerCord] = (),
    unit: LengthUnit | None = None,
    point_mm: float | None = None,
) -> ScheduleLine:
    """Read one layer.

    Parameters
    ----------
    letters : the whip's cords by letter, as in ``{"A": "Ridge 4 mm"}``.
    cords : the layer's own cords where they are known already; a count without a letter is then dealt by
        their shares. With neither, counts without a letter make a layer whose cord is not noted.
    unit : the unit of a line without a head.
    point_mm : station of the point, needed for ``p8``.

    Raises
    ------
    NotationError
        With the character, the piece and the remedy.
    """
    cursor = open_line(text, unit)
    pieces = [piece for piece in cursor.split(";") if not piece.done()]
    if not pieces:
        raise cursor.refuse("line-empty", "says nothing", "write it like 'in: 16A; 30: -2 each 4 to 8; p'", 0)
    line = _Line(cords_in_play(letters or {}, cords), point_mm)
    rest: Rest | None = None
    for number, piece in enumerate(pieces):
        closing = piece.text[piece.pos :].strip().lower()
        if number and closing in CLOSINGS:
            if number < len(pieces) - 1:
                raise piece.refuse("closing-early", "closes the line before its end", "put it last")
            rest = _close(line, piece, closing)
        else:
            _read_step(line, piece)
    findings: list[Finding] = []
    if rest is None and any(count.high > 0 for count in line.running.values()):
        remedy = "close the line with p, end or ?"
        findings.append(
            Finding("closing-assumed", "the line has no closing; taken to run to the point", remedy)
        )
    steps, fate = _settled(line)
    return ScheduleLine(
        text, cursor.unit, _cords(line, cords), StrandSchedule(steps, rest or "point"), fate, tuple(findings)
    )


def _close(line: _Line, piece: Cursor, closing: str) -> Rest:
    ended = all(count.high == 0 for count in line.running.values())
    if closing == "end" and not ended:
        line.add(piece, NOT_NOTED, dict.fromkeys(line.running, exactly(0)), None)
    elif closing != "end" and ended:
        raise piece.refuse(
            "closing-after-end", "cannot follow: no strand is left", "leave it out, or check the counts"
        )
    return "not noted" if closing == "?" else "point"


def _read_step(line: _Line, piece: Cursor) -> None:
    first = not line.steps
    start = piece.pos
    colon = piece.text.find(":", piece.pos)
    if piece.text.find(":", colon + 1) > 0 <= colon:
        raise piece.refuse("colon-twice", "stands before two ':'", "part the steps with ';'", start)
    if colon < 0:
        if not first:
            raise piece.refuse(
                "place-missing", "does not say where", "put the place before it, as in '30: -2'"
            )
        places, body = [Where(Fraction(0), Fraction(0))], piece
    else:
        before = Cursor(piece.typed, piece.pos, colon, piece.unit)
        places = take_places(before, line.steps[-1][0] if line.steps else None, line.point_mm)
        body = Cursor(piece.typed, colon + 1, piece.end, piece.unit)
    says = read_change(body, line.play, line.running, line.fate)
    line.fate = says.fate
    if says.fate is not None:
        line.fate_said = says.fate
    if first:
        if says.counts is None or says.deltas or says.ends or says.spacing is not None or len(places) > 1:
            raise piece.refuse(
                "start-missing", "gives no count to start with", "begin like '16A' or '12'", start
            )
        line.add(piece, places[0], says.counts, says.pattern)
        return
    if says.spacing is not None:
        places = repeated(piece, places, says, line.running)
    for number, where in enumerate(places, start=1):
        if says.ends:
            counts = dict.fromkeys(line.running, exactly(0))
        elif says.counts is not None:
            counts = says.counts
        else:
            counts = changed(body, line.running, says.deltas, line.play)
        line.add(piece, where, counts, says.pattern if number == len(places) else None)


def _settled(line: _Line) -> tuple[tuple[Step, ...], Fate | None]:
    """The steps with every place bounded by its neighbours, and the fate where one holds for all drops."""
    letters = list(line.play.by_letter if line.play.listed else line.running)
    limit = Fraction(LENGTH_LIMIT_MM if line.point_mm is None else line.point_mm)
    places = [where for where, *_ in line.steps]
    for i, where in enumerate(places):
        if where.kind == "not noted":
            low = places[i - 1].low if i else Fraction(0)
            high = next((later.high for later in places[i + 1 :] if later.kind != "not noted"), limit)
            places[i] = Where(low, max(low, high), "not noted")
    steps = tuple(
        Step(where.place(), tuple(counts.get(x, exactly(0)) for x in letters), fate, pattern)
        for where, (_, counts, fate, pattern) in zip(places, line.steps, strict=True)
    )
    return uniform_fate(steps, line.fate_said)


def uniform_fate(steps: tuple[Step, ...], said: Fate | None = None) -> tuple[tuple[Step, ...], Fate | None]:
    """Steps without a fate of their own where every drop has the same one, and that fate."""
    fates = {step.fate for number, step in enumerate(steps) if drops(steps, number)}
    if not fates:
        return steps, said
    if len(fates) > 1:
        return steps, None
    return tuple(replace(step, fate=None) for step in steps), fates.pop()


def drops(steps: Sequence[Step], number: int) -> bool:
    """Whether some cord has fewer strands from this step on."""
    if number == 0:
        return False
    pairs = zip(steps[number - 1].counts, steps[number].counts, strict=True)
    return any(now.low < was.low or now.high < was.high for was, now in pairs)


def _cords(line: _Line, cords: Sequence[LayerCord]) -> tuple[LayerCord, ...]:
    if cords:
        return tuple(line.play.by_letter.values())
    found = []
    for letter in line.running:
        if letter:
            counts = [counts[letter].mid for _, counts, *_ in line.steps if letter in counts]
            share = next((count for count in counts if count), 1.0) if len(line.running) > 1 else 1.0
            found.append(replace(line.play.by_letter[letter], share=share))
    return tuple(found)
