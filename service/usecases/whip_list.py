"""The list of whips: searched, filtered, sorted and cut into pages by the database.

However many whips there are, a page of the list takes the same number of queries.
"""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from sqlalchemy import ColumnElement, String, func, not_, or_, select, true
from sqlalchemy.orm import InstrumentedAttribute, Session

from plaitlog.models.tables import CordRow, CordUseRow, LayerCordRow, LayerRow, MakerRow, WhipRow
from plaitlog.models.whip import Status
from plaitlog.service.usecases.whip_columns import COLUMNS

NOT_NOTED: Final = "(not noted)"
"""As a filter: those of which it is not noted."""
LATEST: Final = "latest"
"""As an order: those recorded last come first."""
SORTED_BY: Final = (LATEST, *(column for column in COLUMNS if column != "notes"))


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which whips are asked for.

    text : words, each of which must stand in the label, type or notes, the maker's name or that of a cord.
    type, maker, cord, status : as noted, or NOT_NOTED; empty for any.
    sort : one of SORTED_BY. Whips of which it is not noted come last either way.
    """

    text: str = ""
    type: str = ""
    maker: str = ""
    cord: str = ""
    status: str = ""
    sort: str = LATEST
    descending: bool = False

    @property
    def everything(self) -> bool:
        return not (self.text.split() or self.type or self.maker or self.cord or self.status)


@dataclass(frozen=True, slots=True)
class WhipLine:
    """One whip of the list; lengths and diameters in mm, weight in g, ``overall`` the mean of its ratings.

    ``thick_mm`` and ``point_mm`` are the readings nearest to the ends of the thong.
    """

    label: str
    type: str | None
    maker: str | None
    status: str | None
    made_on: dt.date | None
    thong_length_mm: float | None
    thick_mm: float | None
    point_mm: float | None
    weight_g: float | None
    overall: float | None
    readings: int
    hours: float | None
    recorded: dt.datetime
    notes: str | None
    cords: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WhipList:
    """A page of the whips that were asked for.

    matching : how many were asked for. of : how many there are.
    types, makers, cords, statuses : what a list can be narrowed to.
    """

    lines: Sequence[WhipLine]
    matching: int
    of: int
    types: Sequence[str] = field(default_factory=tuple)
    makers: Sequence[str] = field(default_factory=tuple)
    cords: Sequence[str] = field(default_factory=tuple)
    statuses: Sequence[str] = field(default_factory=tuple)


def whip_list(session: Session, wanted: Wanted, limit: int, offset: int = 0) -> WhipList:
    """At most ``limit`` whips from ``offset`` on, and how many there are."""
    asked = _asked(wanted)
    matching = session.scalar(select(func.count(WhipRow.id)).where(*asked)) or 0
    in_order = select(WhipRow.id).where(*asked).order_by(*_order(session, wanted))
    keys = session.scalars(in_order.limit(limit).offset(offset)).all()
    kinds = session.execute(
        select(WhipRow.type, WhipRow.status, func.count()).group_by(WhipRow.type, WhipRow.status)
    ).all()
    return WhipList(
        _lines(session, keys),
        matching,
        sum(number for _, _, number in kinds),
        types=_named(kind for kind, _, _ in kinds),
        makers=_named(session.scalars(select(MakerRow.name))),
        cords=_named(session.scalars(select(CordRow.name))),
        statuses=_named(status for _, status, _ in kinds),
    )


def latest_whips(session: Session, limit: int, status: Status | None = None) -> list[WhipLine]:
    """The whips that were recorded last, of one status where that is asked."""
    found = select(WhipRow.id).order_by(WhipRow.id.desc()).limit(limit)
    if status is not None:
        found = found.where(WhipRow.status == status)
    return _lines(session, session.scalars(found).all())


def _asked(wanted: Wanted) -> list[ColumnElement[bool]]:
    found = [_has_word(word) for word in wanted.text.split()]
    for column, value in ((WhipRow.type, wanted.type), (WhipRow.status, wanted.status)):
        if value:
            found.append(column.is_(None) if value == NOT_NOTED else column == value)
    if wanted.maker == NOT_NOTED:
        found.append(WhipRow.maker_id.is_(None))
    elif wanted.maker:
        found.append(WhipRow.maker_id.in_(select(MakerRow.id).where(MakerRow.name == wanted.maker)))
    if wanted.cord == NOT_NOTED:
        found.append(not_(_of_cord(true())))
    elif wanted.cord:
        found.append(_of_cord(CordRow.name == wanted.cord))
    return found


def _has_word(word: str) -> ColumnElement[bool]:
    """Whether a word stands in one of the texts, in small or capital letters."""
    makers = select(MakerRow.id).where(_contains(MakerRow.name, word))
    return or_(
        _contains(WhipRow.label, word),
        _contains(WhipRow.type, word),
        _contains(WhipRow.notes, word),
        WhipRow.maker_id.in_(makers),
        _of_cord(_contains(CordRow.name, word)),
    )


def _contains(column: InstrumentedAttribute[Any], word: str) -> ColumnElement[bool]:
    # SQLite knows small and capital letters of English alone.
    spellings = {word, word.lower(), word.upper(), word.capitalize()} if not word.isascii() else {word}
    return or_(*(column.icontains(spelling, autoescape=True) for spelling in sorted(spellings)))


def _of_cord(which: ColumnElement[bool]) -> ColumnElement[bool]:
    """Whether such a cord lies in a layer of the whip, or is noted to have gone into it."""
    cords = select(CordRow.id).where(which)
    layers = select(LayerRow.whip_id).join(LayerCordRow, LayerCordRow.layer_id == LayerRow.id)
    used = select(CordUseRow.whip_id).where(CordUseRow.cord_id.in_(cords))
    return or_(WhipRow.id.in_(layers.where(LayerCordRow.cord_id.in_(cords))), WhipRow.id.in_(used))


def _order(session: Session, wanted: Wanted) -> list[ColumnElement[Any]]:
    if wanted.sort == LATEST:
        return [WhipRow.id.asc() if wanted.descending else WhipRow.id.desc()]
    column = COLUMNS[wanted.sort]
    if session.get_bind().dialect.name == "postgresql" and isinstance(column.type, String):
        column = column.collate("C")  # the order of the characters' codes, as on SQLite
    return [(column.desc() if wanted.descending else column.asc()).nulls_last(), WhipRow.id.desc()]


def _lines(session: Session, keys: Sequence[int]) -> list[WhipLine]:
    columns = [column.label(name) for name, column in COLUMNS.items()]
    rows = session.execute(select(WhipRow.id, *columns).where(WhipRow.id.in_(keys))).all()
    cords = _cords(session, keys)
    found = {key: WhipLine(*(*parts, cords.get(key, ()))) for key, *parts in rows}
    return [found[key] for key in keys]


def _cords(session: Session, keys: Sequence[int]) -> Mapping[int, tuple[str, ...]]:
    """The cords of each whip, each once, from the inside out."""
    query = (
        select(LayerRow.whip_id, CordRow.name)
        .join(LayerCordRow, LayerCordRow.layer_id == LayerRow.id)
        .join(CordRow, CordRow.id == LayerCordRow.cord_id)
        .where(LayerRow.whip_id.in_(keys))
        .order_by(LayerRow.whip_id, LayerRow.position, LayerCordRow.position)
    )
    found: dict[int, dict[str, None]] = {}
    for key, name in session.execute(query):
        found.setdefault(key, {})[name] = None
    return {key: tuple(names) for key, names in found.items()}


def _named(found: Iterable[str | None]) -> list[str]:
    return sorted({one for one in found if one})
