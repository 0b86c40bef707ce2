"""Undo and redo: every table as it was, and a refusal that says what is in the way."""

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy import Engine, select, update

from plaitlog.models.errors import NotFoundError, UndoError
from plaitlog.models.tables import HistoryEntryRow, HistoryRow, WhipRow
from plaitlog.service.database import reading, writing
from plaitlog.service.schemas.refusals import record_from
from plaitlog.service.usecases import workshop
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.changes.history import ChangeInList, change, history
from plaitlog.service.usecases.changes.journal import Journal
from plaitlog.service.usecases.changes.undoing import Undone, redo, undo
from plaitlog.service.usecases.exporting import export_records
from plaitlog.service.usecases.import_deciding import plan_import
from plaitlog.service.usecases.import_plan import Row
from plaitlog.service.usecases.import_writing import write_plan
from plaitlog.service.usecases.importing import take_records
from tests.usecases.contents import content_hash, contents
from tests.usecases.examples import BULLWHIP, FELL, LATER_READING, RIDGE, SESSION, STOCK, WORKSHOP

LABEL = "2026-014"
PALE = {"kind": "cord", "name": "Pale 2 mm", "material": "linen", "construction": "cored"}


def do(engine: Engine, work: Callable[..., Any], *what: Any, **named: Any) -> Any:
    with writing(engine) as session:
        return work(session, *what, **named)


def take(engine: Engine, *records: dict[str, Any]) -> None:
    do(engine, take_records, records)


def refused(engine: Engine, reverse: Callable[..., Undone], number: int | None = None) -> UndoError:
    """The error, after making sure that nothing was written."""
    before = contents(engine)
    with pytest.raises(UndoError) as error, writing(engine) as session:
        reverse(session, number)
    assert contents(engine) == before
    return error.value


def listed(engine: Engine, **which: Any) -> list[ChangeInList]:
    with reading(engine) as session:
        return history(session, **which)


@pytest.fixture
def stocked(engine: Engine) -> Engine:
    take(engine, *WORKSHOP)
    return engine


EDITS: list[tuple[Callable[..., Any], Any, dict[str, Any]]] = [
    (editing.edit_whip, LABEL, {"weight_g": 420, "layers": BULLWHIP["layers"][:3], "maker": "Fenn"}),
    (editing.edit_whip, LABEL, {"label": "2026-015", "ratings": None, "cord_used": None}),
    (editing.edit_cord, "Fell 3 mm", {"name": "Fell 3.2 mm", "diameter": "3.2 mm"}),
    (editing.edit_reading, 2, {"whip": "old 3", "after_layer": 1, "on": "2026-01-02"}),
    (editing.edit_rating, 2, {"scores": {"volley": 3}, "feel": None}),
    (editing.edit_stock, 1, {"metres": None, "cord": "Fell 3.2 mm"}),
    (editing.edit_maker, "Tamsin", {"name": "Tamsin of the hill"}),
]


@pytest.mark.parametrize("start", [[], [PALE, {"kind": "whip", "label": "first", "thong_length_mm": 900}]])
def test_everything_undone_is_everything_as_it_was_and_redone_as_it_became(
    engine: Engine, start: list[dict[str, Any]]
) -> None:
    """Import, edit whatever can be edited, remove: back step by step, forth step by step."""
    if start:
        take(engine, *start)
    removals: list[Any] = [
        lambda session: editing.remove_reading(session, max(_readings(session))),
        lambda session: editing.remove_whip(session, "2026-015"),
        lambda session: editing.remove_stock(session, 1),
    ]
    steps: list[Callable[[Any], Any]] = [
        lambda session: take_records(session, WORKSHOP),
        *(lambda session, e=edit: e[0](session, *e[1:]) for edit in EDITS),
        lambda session: take_records(session, [{**STOCK, "lot": "7"}, {**LATER_READING, "whip": "old 3"}]),
        *removals,
    ]
    hashes = [content_hash(engine)]
    for step in steps:
        do(engine, step)
        hashes.append(content_hash(engine))
    assert len(set(hashes)) == len(hashes)
    numbers = [row.number for row in reversed(listed(engine))][bool(start) :]
    for number, before in zip(reversed(numbers), reversed(hashes[:-1]), strict=True):
        assert do(engine, undo).of == number
        assert content_hash(engine) == before
    for number, after in zip(numbers, hashes[1:], strict=True):
        assert do(engine, redo).of == number
        assert content_hash(engine) == after
    assert len(listed(engine)) == len(start[:1]) + 3 * len(steps), "nothing in the history is ever removed"


def _readings(session: Any) -> list[int]:
    return [key for key, _, _ in workshop.readings_with_keys(session, "old 3")]


def test_the_import_of_two_edits_ago_leaves_an_empty_workshop(stocked: Engine) -> None:
    do(stocked, editing.edit_whip, LABEL, {"hours": 12})
    do(stocked, editing.edit_whip, LABEL, {"hours": 13})
    for _ in range(3):
        do(stocked, undo)
    assert not any(contents(stocked).values())


def test_an_export_sees_an_edit_and_its_undo(stocked: Engine) -> None:
    def hours() -> Any:
        with reading(stocked) as session:
            return next(r["hours"] for r in export_records(session) if r.get("label") == LABEL)

    do(stocked, editing.edit_whip, LABEL, {"hours": 99})
    assert hours() == 99
    do(stocked, undo)
    assert hours() == 11.5


def test_one_change_in_the_middle_can_be_undone_where_nothing_came_after_it(stocked: Engine) -> None:
    do(stocked, editing.edit_whip, LABEL, {"hours": 12})
    do(stocked, editing.edit_whip, "old 3", {"hours": 3})
    do(stocked, undo, 2)
    with reading(stocked) as session:
        assert workshop.whip(session, LABEL).hours == 11.5
        assert workshop.whip(session, "old 3").hours == 3


def test_undo_twice_goes_further_back_and_an_undone_undo_is_a_redo(stocked: Engine) -> None:
    hashes = [content_hash(stocked)]
    for hours in (12, 13):
        do(stocked, editing.edit_whip, LABEL, {"hours": hours})
        hashes.append(content_hash(stocked))
    assert do(stocked, undo) == Undone(4, "undo", 3)
    assert do(stocked, undo) == Undone(5, "undo", 2)
    assert content_hash(stocked) == hashes[0]
    assert do(stocked, undo, 5) == Undone(6, "redo", 2)
    assert content_hash(stocked) == hashes[1]
    assert do(stocked, undo, 6) == Undone(7, "undo", 2)
    assert do(stocked, redo, 6) == Undone(8, "redo", 2)
    assert do(stocked, redo) == Undone(9, "redo", 3)
    assert content_hash(stocked) == hashes[2]
    assert "nothing" not in str(refused(stocked, redo, 9))


def test_a_new_change_leaves_what_was_undone_to_be_redone_where_rows_agree(stocked: Engine) -> None:
    do(stocked, editing.edit_whip, LABEL, {"hours": 12})
    do(stocked, undo)
    do(stocked, editing.edit_whip, "old 3", {"hours": 3})
    do(stocked, redo)
    do(stocked, undo, 2)
    do(stocked, editing.edit_whip, LABEL, {"notes": "soft"})
    assert str(refused(stocked, redo, 2)) == (
        f"change 2 cannot be done again: change 7 (edit) has touched whip {LABEL} since; undo change 7 first"
    )


def test_a_number_that_was_given_is_never_given_again(stocked: Engine) -> None:
    """So a whip that was removed comes back beside one that was recorded since."""
    do(stocked, editing.remove_whip, "old 3")
    take(stocked, {"kind": "whip", "label": "new", "readings": [{"at_mm": 5, "diameter_mm": 12}]})
    do(stocked, undo, 2)
    with reading(stocked) as session:
        assert [whip.label for whip in workshop.whips_in_brief(session)] == [LABEL, "new", "old 3"]


def test_what_came_later_is_named(stocked: Engine) -> None:
    do(stocked, editing.edit_whip, LABEL, {"hours": 12})
    do(stocked, editing.edit_whip, LABEL, {"hours": 13})
    error = refused(stocked, undo, 2)
    assert "change 3 (edit) has touched whip 2026-014 since; undo change 3 first" in str(error)
    do(stocked, undo, 3)
    do(stocked, undo, 2)
    assert "redo change 2 first" in str(refused(stocked, redo, 3)), "the undo of change 2 is in its way"


def test_a_reading_added_since_keeps_its_whip(engine: Engine) -> None:
    take(engine, RIDGE, FELL)
    take(engine, BULLWHIP)
    take(engine, LATER_READING)
    error = refused(engine, undo, 2)
    assert "change 3 (record) has touched a reading of 2026-014 since; undo change 3 first" in str(error)
    # and a cord that a whip lies in stays, and the maker of another whip
    assert "change 2 (record) has touched whip 2026-014" in str(refused(engine, undo, 1))
    take(engine, {"kind": "whip", "label": "w", "maker": "Orrin"})
    do(engine, undo, 3)
    assert "whip w since" in str(refused(engine, undo, 2))


def test_what_something_belongs_to_must_be_there(stocked: Engine) -> None:
    do(stocked, editing.remove_reading, 1)
    do(stocked, editing.remove_whip, LABEL)
    assert "change 3 (remove) has touched" in str(refused(stocked, undo, 2))
    do(stocked, undo, 3)
    do(stocked, undo, 2)


@pytest.mark.parametrize(
    ("remove", "what", "again"),
    [
        (editing.remove_cord, PALE["name"], PALE),
        (editing.remove_stock, 1, STOCK),
        (editing.remove_rating, 2, SESSION),
    ],
)
def test_a_name_taken_meanwhile_is_in_the_way(
    stocked: Engine, remove: Callable[..., Any], what: Any, again: dict[str, Any]
) -> None:
    take(stocked, PALE)
    do(stocked, remove, what)
    take(stocked, again)
    assert "change 4 (record) has touched" in str(refused(stocked, undo, 3))
    do(stocked, undo, 4)
    do(stocked, undo, 3)


def test_a_session_beside_the_short_rating_is_in_nobodys_way(stocked: Engine) -> None:
    do(stocked, editing.remove_rating, 1)
    take(stocked, {"kind": "rating", "whip": LABEL, "scores": {"ease": 2}, "feel": {"limp_stiff": 1}})
    do(stocked, undo, 2)
    with reading(stocked) as session:
        assert len(workshop.whip(session, LABEL).ratings) == 3


def test_an_undo_that_would_leave_what_cannot_be_is_refused(engine: Engine) -> None:
    """Rows agree, but the reading taken since lies past the point of the shorter whip."""
    take(engine, {"kind": "whip", "label": "w", "thong_length_mm": 1000})
    do(engine, editing.edit_whip, "w", {"thong_length_mm": 1800})
    take(engine, {"kind": "reading", "whip": "w", "at_mm": 1500, "diameter_mm": 9})
    assert "w, readings 1, at_mm: " in str(refused(engine, undo, 2).findings[0])
    do(engine, undo, 3)
    do(engine, undo, 2)


def test_there_must_be_something_to_undo(engine: Engine) -> None:
    assert "no change to undo" in str(refused(engine, undo))
    take(engine, RIDGE)
    assert "no change that was undone" in str(refused(engine, redo))
    assert "is done already; 'plaitlog undo 1' reverses it" in str(refused(engine, redo, 1))
    do(engine, undo)
    assert "is undone already" in str(refused(engine, undo, 1))
    with pytest.raises(NotFoundError, match="no change 77"):
        do(engine, undo, 77)


def test_one_journal_serves_several_parts_of_an_import(engine: Engine) -> None:
    """A whip of the first part is changed by a second one: one change, undone at once."""
    parts = [
        [RIDGE, FELL, BULLWHIP],
        [{"kind": "whip", "label": LABEL, "hours": 3, "ratings": {"ease": 2}}, SESSION],
    ]

    def in_parts(session: Any) -> None:
        journal = Journal(session, "import", "Orrin", "table.csv")
        for part in parts:
            rows = [Row(number, record_from(record)) for number, record in enumerate(part, start=1)]
            write_plan(session, plan_import(session, rows), journal, lambda doing, done, total: None)

    do(engine, in_parts)
    after = content_hash(engine)
    (found,) = listed(engine)
    assert (found.actor, found.action, found.subject) == ("Orrin", "import", "table.csv")
    do(engine, undo)
    assert not any(contents(engine).values())
    do(engine, redo)
    assert content_hash(engine) == after


def test_rows_kept_by_an_older_version_take_what_new_columns_have_by_default(stocked: Engine) -> None:
    """Images without a column of today: as if it had come with a later revision."""
    do(stocked, editing.remove_whip, LABEL)
    do(stocked, _change_images, 2, lambda row: (row.pop("version", 0), row.pop("hours", 0)))
    do(stocked, undo)
    with reading(stocked) as session:
        version, whip = workshop.whip_with_version(session, LABEL)
    assert (version, whip.hours, len(whip.readings)) == (0, None, 5)


def test_rows_that_fit_no_longer_are_refused_with_a_remedy(stocked: Engine) -> None:
    do(stocked, editing.remove_reading, 1)
    do(stocked, _change_images, 2, lambda row: row.update(mood="good"))
    assert "readings has no mood any more; its records as they were are in the history" in str(
        refused(stocked, undo)
    )
    do(stocked, _change_images, 2, lambda row: (row.pop("mood", None), row.pop("whip_id")))
    assert "must have whip_id by now" in str(refused(stocked, undo))


def _change_images(session: Any, number: int, change_row: Callable[[dict[str, Any]], Any]) -> None:
    rows = select(HistoryEntryRow.id, HistoryEntryRow.images).where(HistoryEntryRow.history_id == number)
    for key, images in session.execute(rows).all():
        for pairs in images.values():
            for row in (row for pair in pairs for row in pair if row):
                change_row(row)
        session.execute(update(HistoryEntryRow).where(HistoryEntryRow.id == key).values(images=images))


def test_a_change_whose_rows_were_not_kept_is_shown_and_not_undone(stocked: Engine) -> None:
    do(stocked, lambda session: session.execute(update(HistoryEntryRow).values(images=None)))
    assert "made before changes could be undone" in str(refused(stocked, undo))
    (found,) = listed(stocked)
    assert (found.undoable, found.undone) == (False, False)
    assert found.entries[0].after == {"kind": "maker", "name": "Orrin"}


def test_the_history_of_one_whip_under_all_its_names(stocked: Engine) -> None:
    do(stocked, editing.edit_whip, LABEL, {"label": "b"})
    do(stocked, editing.edit_whip, "old 3", {"hours": 3})
    do(stocked, editing.edit_whip, "b", {"label": "c", "weight_g": 420})
    do(stocked, editing.edit_reading, 1, {"diameter_mm": 22})
    do(stocked, undo)
    take(stocked, {"kind": "whip", "label": "b"})
    assert [row.number for row in listed(stocked, kind="whip", name="c")] == [6, 5, 4, 2, 1]
    assert [row.number for row in listed(stocked, kind="whip", name="c", limit=2, before=5)] == [4, 2]
    assert [row.number for row in listed(stocked, name="Ridge 4 mm")] == [1]
    assert [row.number for row in listed(stocked, kind="reading")] == [6, 5]
    assert listed(stocked, name="nobody") == []
    words = {row.number: [entry.words for entry in row.entries] for row in listed(stocked, name="c")}
    assert words[6] == ["reading of c: diameter_mm 22 -> 22.3"]
    assert words[5] == ["reading of c: diameter_mm 22.3 -> 22"]
    assert words[4] == ["whip c: label b -> c; weight_g 412 -> 420"]
    assert words[1] == [f"whip {LABEL}: added", f"rating of {LABEL}: added (by Tamsin, on 2026-03-09)"]
    assert [row.action for row in listed(stocked, kind="cord", name="Ridge 4 mm")] == ["record"]
    assert listed(stocked, kind="cord", name="Ridge 4 mm")[0].entries[1].kind == "stock"


def test_a_change_tells_what_holds(stocked: Engine) -> None:
    do(stocked, editing.edit_whip, LABEL, {"label": "b"}, actor="Orrin")
    do(stocked, undo, actor="Tamsin")
    with reading(stocked) as session:
        first, edit, undoing = (change(session, number) for number in (1, 2, 3))
        with pytest.raises(NotFoundError):
            change(session, 4)
    assert (first.undone, first.undoable, first.touched["whip"]) == (False, True, 2)
    assert (edit.undone, edit.undoable, edit.actor, edit.subject) == (True, False, "Orrin", LABEL)
    assert (undoing.of, undoing.undone, undoing.undoable, undoing.actor) == (2, False, True, "Tamsin")
    (entry,) = undoing.entries
    assert (entry.name, entry.former_name) == (LABEL, "b")
    assert (entry.before or {})["label"] == "b"
    do(stocked, redo)
    with reading(stocked) as session:
        assert change(session, 3).undone


def test_an_undo_brings_the_version_back_with_the_content(stocked: Engine) -> None:
    do(stocked, editing.edit_whip, LABEL, {"hours": 12})
    do(stocked, undo)
    with reading(stocked) as session:
        assert session.scalar(select(WhipRow.version).where(WhipRow.label == LABEL)) == 1
    do(stocked, editing.edit_whip, LABEL, {"hours": 13}, version=1)
    with reading(stocked) as session:
        assert session.scalar(select(WhipRow.version).where(WhipRow.label == LABEL)) == 4
        assert len(session.scalars(select(HistoryRow)).all()) == 4
