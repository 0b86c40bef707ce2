"""A stack as rows of a form, and as one line of notation: each is made from the other.

Rows hold texts as they are typed, so that one may stand half filled in while the others are worked on.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from string import ascii_uppercase
from typing import Final

from plaitlog.models.errors import Finding, InputError, NotationError
from plaitlog.models.notation import parse_stack
from plaitlog.models.notation.stack import TypedLayer
from plaitlog.models.units import DIAMETER, LENGTH, THICKNESS
from plaitlog.models.whip import Span
from plaitlog.service.usecases.recording.answers import with_unit
from plaitlog.service.usecases.shown_units import ShownUnits

FOUNDATION: Final = "foundation"
ROLES: Final = (FOUNDATION, "core", "filler", "belly", "bolster", "binding", "overlay")
SIZED: Final = frozenset({FOUNDATION, "core", "bolster", "binding"})
"""Roles that may give a size in the place of strands."""
CORDS_IN_ROW: Final = 2


@dataclass(frozen=True, slots=True)
class StackRow:
    """One layer as typed. ``size``: the diameter of a foundation or core, the thickness of anything else."""

    role: str = "overlay"
    cord: str = ""
    strands: str = ""
    cord_2: str = ""
    strands_2: str = ""
    gutted: str = ""
    size: str = ""
    pattern: str = ""
    turn: str = ""


FIELDS: Final = tuple(field.name for field in fields(StackRow))


@dataclass(frozen=True, slots=True)
class StackLine:
    """One stack as a line of notation; ``letters``: the cords it names."""

    text: str
    letters: Mapping[str, str]


def line_of(rows: Sequence[StackRow], shown: ShownUnits) -> StackLine:
    """The line that says the same as the rows.

    Raises
    ------
    InputError
        With the layer and what is to be mended in it.
    """
    letters: dict[str, str] = {}
    pieces = []
    for place, row in enumerate(rows, start=1):
        where = f"layer {place}"
        try:
            piece = _piece(row, letters, shown)
            parse_stack(
                piece if row.role != FOUNDATION else f"{piece}; core 1",
                letters={letter: cord for cord, letter in letters.items()},
            )
        except InputError as error:
            raise InputError(_within(error, where)) from error
        if row.role == FOUNDATION and place > 1:
            text = "a foundation lies inside of all others"
            raise InputError(Finding("foundation-late", text, "move it to the first place", where))
        pieces.append(piece)
    return StackLine("; ".join(pieces), {letter: cord for cord, letter in letters.items()})


def rows_of(line: StackLine, only: str | None = None) -> list[StackRow] | None:
    """The rows that say the same as a line; None where a row has no room for what it says.

    only : the cord of counts without a letter.

    Raises
    ------
    InputError
        Where the line cannot be read.
    """
    typed = parse_stack(line.text, letters=line.letters)
    rows = [] if not typed.foundation_mm else [StackRow(role=FOUNDATION, size=_mm(typed.foundation_mm))]
    for layer in typed.layers:
        if len(layer.counts) > CORDS_IN_ROW or (layer.role == "core" and layer.thickness_mm is not None):
            return None
        rows.append(_row(layer, line.letters, only or ""))
    return rows


def _piece(row: StackRow, letters: dict[str, str], shown: ShownUnits) -> str:
    if row.role not in ROLES:
        raise _mend(f"{row.role!r} is no kind of layer", f"choose {', '.join(ROLES)}")
    if row.role == FOUNDATION or (row.size and row.role in SIZED and not row.strands):
        if not row.size:
            raise _mend("its diameter is missing", "give it, or remove the layer")
        quantity = DIAMETER if row.role in (FOUNDATION, "core") else THICKNESS
        name = "rod" if row.role == FOUNDATION else row.role
        return f"{name} {with_unit(row.size, shown.diameters, quantity)[0]}"
    if not row.strands:
        missing = "strands or a size are missing" if row.role in SIZED else "the strands are missing"
        raise _mend(missing, "give them, or remove the layer")
    counts = [(row.strands, row.cord)]
    if row.strands_2:
        counts.append((row.strands_2, row.cord_2))
    said = []
    for count, cord in counts:
        if not cord:
            raise _mend("it is not said of which cord", "choose one")
        letter = letters.setdefault(cord, ascii_uppercase[min(len(letters), 25)])
        said.append(f"{count.strip()}{letter}")
    words = [row.role, "+".join(said)]
    if row.gutted:
        words.append("gut")
    if row.pattern:
        words.append(row.pattern.strip())
    if row.turn:
        words.append(f"turn {with_unit(row.turn, shown.lengths, LENGTH)[0]}")
    return " ".join(words)


def _row(layer: TypedLayer, letters: Mapping[str, str], only: str) -> StackRow:
    counts = [(letters.get(letter, only), _count(span)) for letter, span in layer.counts]
    first = counts[0] if counts else ("", "")
    second = counts[1] if len(counts) > 1 else ("", "")
    size = layer.diameter_mm or layer.thickness_mm
    return StackRow(
        role=layer.role,
        cord=first[0],
        strands=first[1],
        cord_2=second[0],
        strands_2=second[1],
        gutted="yes" if layer.gutted else "",
        size="" if size is None else _mm(size),
        pattern=layer.pattern or "",
        turn="" if layer.turn_mm is None else _mm(layer.turn_mm),
    )


def _count(span: Span) -> str:
    return f"{span.low:g}" if span.exact else f"{span.low:g}..{span.high:g}"


def _mm(mm: float) -> str:
    return f"{mm:.6g} mm"


def _within(error: InputError, where: str) -> Finding:
    """The finding at its layer; characters are counted in a line that nobody typed."""
    finding = error.finding
    if isinstance(error, NotationError):
        return Finding(finding.code, finding.text, finding.remedy, where)
    return finding.at(where)


def _mend(text: str, remedy: str) -> InputError:
    return InputError(Finding("layer-open", text, remedy))
