"""Looking back: what was changed, by whom, and whether it holds; of everything, or of one noun."""

import datetime as dt
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import ColumnElement, Select, and_, func, or_, select
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, NotFoundError
from plaitlog.models.tables import HistoryEntryRow, HistoryRow
from plaitlog.service.usecases.changes.undoing import last_about

SHOWN_ENTRIES: Final = 20
"""Entries that a list shows of one change; ``change`` gives all of them."""

LOOKED_AT: Final = 1_000
"""Entries of one noun, the latest, that its own list of changes looks at."""

BELONGING: Final[Mapping[str, tuple[str, ...]]] = {
    "whip": ("whip", "reading", "rating", "photo"),
    "cord": ("cord", "stock"),
}
"""Kinds whose changes are those of a whip or cord too; they are filed under its name."""


@dataclass(frozen=True, slots=True)
class EntryInList:
    """One noun that a change touched: its record before and after (None: not there), and that in words.

    An undo has the entries of the change it takes back, with the sides the other way round.
    """

    kind: str
    name: str
    former_name: str | None
    before: dict[str, Any] | None
    after: dict[str, Any] | None

    @property
    def words(self) -> str:
        """``whip 2026-014: weight_g 412 -> 420``."""
        head = f"{_HEAD.get(self.kind, '')}{self.name}"
        if self.before is None:
            return f"{head}: added{_measured(self.after)}"
        if self.after is None:
            return f"{head}: removed{_measured(self.before)}"
        return f"{head}: {'; '.join(changed_keys(self.before, self.after)) or 'changed'}"


@dataclass(frozen=True, slots=True)
class ChangeInList:
    """One change.

    Attributes
    ----------
    number, created_at, actor, action, subject : as in the history.
    of : the change that an undo or redo is about.
    undone : whether it holds no longer.
    undoable : whether its rows were kept, and it holds; what came later may still stand in the way.
    touched : number of nouns by kind.
    entries : the nouns it touched; in a list the first ones, or those of the noun that is asked for.
    """

    number: int
    created_at: dt.datetime
    actor: str | None
    action: str
    subject: str | None
    of: int | None
    undone: bool
    undoable: bool
    touched: Mapping[str, int]
    entries: Sequence[EntryInList]


def history(
    session: Session,
    *,
    kind: str | None = None,
    name: str | None = None,
    limit: int = 50,
    before: int | None = None,
) -> list[ChangeInList]:
    """Changes, the latest first.

    Parameters
    ----------
    kind, name : only changes of that noun and what belongs to it (a whip's readings and ratings, a cord's
        stock), also under names it had earlier.
    limit : at most so many.
    before : only changes with a smaller number.
    """
    query = select(HistoryRow).order_by(HistoryRow.id.desc()).limit(limit)
    wanted: ColumnElement[bool] | None = None
    if before is not None:
        query = query.where(HistoryRow.id < before)
    if kind is not None or name is not None:
        wanted = _wanted(session, kind, name)
        numbers = select(HistoryEntryRow.history_id).where(wanted)
        query = query.where(or_(HistoryRow.id.in_(numbers), HistoryRow.of.in_(numbers)))
    return _listed(session, query, wanted, SHOWN_ENTRIES)


def changes_of(session: Session, kind: str, name: str, *, limit: int = 10) -> list[ChangeInList]:
    """The latest changes of one noun and what belongs to it; ``touched`` and ``entries`` tell of it alone.

    Nothing else is looked at, so that a whip out of an import of thousands is found as quickly as any other.
    """
    entry = HistoryEntryRow
    mine = select(entry.id, entry.history_id).where(_wanted(session, kind, name))
    found = session.execute(mine.order_by(entry.id.desc()).limit(LOOKED_AT)).all()
    numbers = {row.history_id for row in found}
    query = (
        select(HistoryRow)
        .where(or_(HistoryRow.id.in_(numbers), HistoryRow.of.in_(numbers)))
        .order_by(HistoryRow.id.desc())
        .limit(limit)
    )
    wanted = entry.id.in_([row.id for row in found])  # by key: the database would go through the whole change
    return _listed(session, query, wanted, SHOWN_ENTRIES, counted=wanted)


def touching_others(session: Session, numbers: Iterable[int], name: str) -> set[int]:
    """Those of the changes that touched something filed under another name too."""
    entry = HistoryEntryRow
    other = select(entry.id).where(entry.history_id == HistoryRow.id, entry.name != name).exists()
    return set(session.scalars(select(HistoryRow.id).where(HistoryRow.id.in_(set(numbers)), other)))


def change(session: Session, number: int, *, limit: int | None = None, offset: int = 0) -> ChangeInList:
    """One change with everything it touched, or at most ``limit`` entries of it from ``offset`` on.

    Raises
    ------
    NotFoundError
        There is no such change.
    """
    found = _listed(session, select(HistoryRow).where(HistoryRow.id == number), None, limit, offset)
    if not found:
        raise NotFoundError(
            Finding("change-not-found", f"there is no change {number}", "'plaitlog history' lists them")
        )
    return found[0]


def changed_keys(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    """``weight_g 412 -> 420`` for each key that differs."""
    return [
        f"{key} {_shown(before.get(key))} -> {_shown(after.get(key))}"
        for key in {**before, **after}
        if before.get(key) != after.get(key)
    ]


def _wanted(session: Session, kind: str | None, name: str | None) -> ColumnElement[bool]:
    entry = HistoryEntryRow
    kinds = None if kind is None else BELONGING.get(kind, (kind,))
    of_kind: list[ColumnElement[bool]] = [] if kinds is None else [entry.kind.in_(kinds)]
    if name is None:
        return and_(*of_kind)
    named: list[ColumnElement[bool]] = []
    for one, until in _names(session, kinds, name):
        limit = [] if until is None else [entry.history_id <= until]
        named.append(and_(or_(entry.name == one, entry.former_name == one), *limit))
    return and_(or_(*named), *of_kind)


def _names(session: Session, kinds: Sequence[str] | None, name: str) -> list[tuple[str, int | None]]:
    """The name, and those the noun had earlier, each with the change that took it away."""
    found: list[tuple[str, int | None]] = [(name, None)]
    renamed = select(HistoryEntryRow.former_name, HistoryEntryRow.history_id).where(
        HistoryEntryRow.former_name.is_not(None),
        HistoryEntryRow.kind.in_([k for k in ("maker", "cord", "whip") if kinds is None or k in kinds]),
    )
    for one, until in found:  # grows while it is gone through
        for former, number in session.execute(renamed.where(HistoryEntryRow.name == one)):
            if former is None or (former, number) in found:
                continue
            if until is None or number < until:
                found.append((former, number))
    return found


def _listed(
    session: Session,
    query: Select[HistoryRow],
    wanted: ColumnElement[bool] | None,
    at_most: int | None,
    offset: int = 0,
    counted: ColumnElement[bool] | None = None,
) -> list[ChangeInList]:
    changes = session.scalars(query).all()
    about = {row.id: row.of or row.id for row in changes}
    last = last_about(session)
    counts = _counts(session, about.values(), counted)
    entries = _entries(session, about.values(), wanted, at_most, offset)
    return [
        _in_list(
            row,
            counts.get(about[row.id], {}),
            entries.get(about[row.id], []),
            # An undo or redo holds while nothing later is about the same change.
            undone=last.get(row.id, (0, ""))[1] == "undo" if row.of is None else row.id != last[row.of][0],
        )
        for row in changes
    ]


def _in_list(
    row: HistoryRow, counts: Mapping[str, tuple[int, int]], entries: list[EntryInList], *, undone: bool
) -> ChangeInList:
    kept = bool(counts) and all(number == images for number, images in counts.values())
    if row.action == "undo":
        entries = [
            EntryInList(x.kind, x.former_name or x.name, x.name if x.former_name else None, x.after, x.before)
            for x in entries
        ]
    return ChangeInList(
        number=row.id,
        created_at=row.created_at,
        actor=row.actor,
        action=row.action,
        subject=row.subject,
        of=row.of,
        undone=undone,
        undoable=kept and not undone,
        touched={kind: number for kind, (number, _) in counts.items()},
        entries=entries,
    )


def _counts(
    session: Session, numbers: Iterable[int], which: ColumnElement[bool] | None = None
) -> dict[int, dict[str, tuple[int, int]]]:
    """Per change and kind, the number of entries, and of those whose rows were kept."""
    entry = HistoryEntryRow
    query = select(entry.history_id, entry.kind, func.count()).group_by(entry.history_id, entry.kind)
    query = query.where(entry.history_id.in_(set(numbers)))
    if which is not None:
        query = query.where(which)
    # Asked apart: whether rows were kept is seen without reading them, but not while they are counted.
    lost = {(number, kind): n for number, kind, n in session.execute(query.where(entry.images.is_(None)))}
    found: dict[int, dict[str, tuple[int, int]]] = {}
    for number, kind, n in session.execute(query):
        found.setdefault(number, {})[kind] = (n, n - lost.get((number, kind), 0))
    return found


def _entries(
    session: Session,
    numbers: Iterable[int],
    wanted: ColumnElement[bool] | None,
    at_most: int | None,
    offset: int,
) -> dict[int, list[EntryInList]]:
    """Per change its entries, or some of them; one query however many changes there are."""
    entry = HistoryEntryRow
    # Placed by key alone: records are read of those only that are shown, an import may have thousands.
    place = func.row_number().over(partition_by=entry.history_id, order_by=entry.id).label("place")
    query = select(entry.id, place).where(entry.history_id.in_(set(numbers)))
    if wanted is not None:
        query = query.where(wanted)
    placed = query.subquery()
    columns = (entry.kind, entry.name, entry.former_name, entry.before, entry.after)
    shown = select(entry.history_id, *columns).join(placed, placed.c.id == entry.id).order_by(entry.id)
    shown = shown.where(placed.c.place > offset)
    if at_most is not None:
        shown = shown.where(placed.c.place <= offset + at_most)
    found: dict[int, list[EntryInList]] = {}
    for number, *parts in session.execute(shown):
        found.setdefault(number, []).append(EntryInList(*parts))
    return found


_HEAD: Final = {
    "maker": "maker ",
    "cord": "cord ",
    "stock": "stock of ",
    "whip": "whip ",
    "reading": "reading of ",
    "rating": "rating of ",
    "photo": "photo of ",
}
_TELLING: Final = (
    "at_mm", "at", "place", "diameter_mm", "girth_mm", "by", "on", "colour", "lot", "metres", "caption",
)  # fmt: skip


def _measured(record: Mapping[str, Any] | None) -> str:
    """What tells a reading, a rating, stock or a photo from others: it has no name."""
    if record is None or record.get("kind") not in ("reading", "rating", "stock", "photo"):
        return ""
    told = [f"{key} {_shown(record[key])}" for key in _TELLING if key in record]
    return f" ({', '.join(told)})" if told else ""


def _shown(value: Any) -> str:
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 60 else f"{text[:57]}..."
