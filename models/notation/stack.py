"""One stack on a line: ``rod 8 mm; core 6A; filler 2A gut; binding 0.2 mm; overlay 8A+8B u2o2u2o2``.

Layers from the inside out, parted by ``;``. A role may be shortened as far as it stays clear (``ov 16A``).
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, get_args

from plaitlog.models.notation.counts import Counts, cords_in_play, take_counts
from plaitlog.models.notation.text import LONGEST_LINE, Cursor
from plaitlog.models.stack import StackRole
from plaitlog.models.units import DIAMETER_LIMIT_MM
from plaitlog.models.whip import Span

_FOUNDATIONS: Final = ("rod", "spike", "foundation", "mandrel")
_ROLES: Final[tuple[StackRole, ...]] = get_args(StackRole)
_WITHOUT_STRANDS: Final = ("core", "bolster", "binding")
_WORD: Final = re.compile(r"[A-Za-z]+")
_GUT: Final = re.compile(r"gut(?:ted)?(?![A-Za-z])", re.IGNORECASE)
_PATTERN: Final = re.compile(r"((?:[uo][0-9]{1,2})+)(?![A-Za-z0-9])", re.IGNORECASE)
_THICK: Final = re.compile(r"thick(?![A-Za-z])", re.IGNORECASE)
_TURN: Final = re.compile(r"turn(?![A-Za-z])", re.IGNORECASE)
_SIZE: Final = re.compile(r"[0-9]*[.,]?[0-9/ ]*(?:mm|cm|in|\"|')(?![A-Za-z])", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class TypedLayer:
    """One layer as typed: strands by letter ("" where no cord is named), or a size in mm."""

    role: StackRole
    counts: tuple[tuple[str, Span], ...] = ()
    gutted: bool = False
    pattern: str | None = None
    diameter_mm: float | None = None
    thickness_mm: float | None = None
    turn_mm: float | None = None


@dataclass(frozen=True, slots=True)
class TypedStack:
    """A stack as typed; ``foundation_mm`` is 0 where none is named."""

    text: str
    layers: tuple[TypedLayer, ...]
    foundation_mm: float = 0.0


def parse_stack(text: str, *, letters: Mapping[str, str] | None = None) -> TypedStack:
    """Read one stack; ``letters`` are the cords by letter (with none, counts go without).

    Raises
    ------
    NotationError
        With the character, the piece and the remedy.
    """
    cursor = Cursor(text[:LONGEST_LINE])
    layers: list[TypedLayer] = []
    foundation_mm = 0.0
    pieces = [piece for piece in cursor.split(";") if not piece.done()]
    for number, piece in enumerate(pieces):
        start = piece.pos
        role = _take_role(piece)
        if role not in _FOUNDATIONS:
            layers.append(_take_layer(piece, _as_stack_role(role), letters or {}, start))
        elif number:
            raise piece.refuse(
                "foundation-late", "stands outside of a layer", "write the foundation first", start
            )
        else:
            foundation_mm = _take_size(piece)
        if not piece.done():
            raise piece.refuse(
                "stack-unreadable", "cannot be read here", "write a layer like 'overlay 16A u2o2u2o2'"
            )
    if not layers:
        raise cursor.refuse("stack-empty", "names no layer", "write it like 'core 6A; overlay 16A'", 0)
    return TypedStack(text, tuple(layers), foundation_mm)


def _take_role(piece: Cursor) -> str:
    start = piece.pos
    word = piece.take(_WORD)
    typed = word[0].lower() if word else ""
    fits = [name for name in (*_ROLES, *_FOUNDATIONS) if typed and name.startswith(typed)]
    if typed in fits:
        return typed
    if len(fits) != 1:
        wanted = " or ".join(fits) or ", ".join((*_ROLES, "rod"))
        raise piece.refuse("role-unknown", "does not name one kind of layer", f"write {wanted}", start)
    return fits[0]


def _as_stack_role(name: str) -> StackRole:
    return next(role for role in _ROLES if role == name)


def _take_layer(piece: Cursor, role: StackRole, letters: Mapping[str, str], start: int) -> TypedLayer:
    counts: Counts | None = None
    size = turn = pattern = None
    gutted = thick = False
    while not piece.done():
        if (
            role in _WITHOUT_STRANDS
            and counts is None
            and size is None
            and _SIZE.match(piece.text, piece.pos)
        ):
            size = _take_size(piece)
            thick = role != "core" or piece.take(_THICK) is not None
            piece.take(_THICK)
        elif piece.take(_GUT):
            gutted = True
        elif found := piece.take(_PATTERN):
            pattern = found[1].lower()
        elif piece.take(_TURN):
            turn = _take_size(piece)
        elif counts is None and size is None:
            counts = take_counts(piece, cords_in_play(letters, ()), {})
            if counts is None:
                break
        else:
            break
    if counts is None and size is None:
        remedy = "write '6A', or a size like '8 mm'" if role in _WITHOUT_STRANDS else f"write '{role} 16A'"
        raise piece.refuse("layer-empty", "gives no number of strands", remedy, start)
    return TypedLayer(
        role,
        tuple((counts or {}).items()),
        gutted,
        pattern,
        diameter_mm=None if thick else size,
        thickness_mm=size if thick else None,
        turn_mm=turn,
    )


def _take_size(piece: Cursor) -> float:
    piece.skip_blanks()
    start = piece.pos
    size = piece.length()
    if size is None or not 0 < size <= DIAMETER_LIMIT_MM:
        raise piece.refuse("size-unreadable", "is no size", "write it like '8 mm' or '3/8 in'", start)
    return float(size)
