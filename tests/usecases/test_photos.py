"""Photos are changes like others: undone and redone exactly, gone and back with their whip, in backups."""

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, func, select

from plaitlog.models.errors import InputError, NotFoundError, StaleEditError, UndoError
from plaitlog.models.tables import HistoryEntryRow, PhotoContentRow, PhotoRow
from plaitlog.service.backups.files import place_of
from plaitlog.service.backups.making import back_up_to
from plaitlog.service.backups.restoring import restore
from plaitlog.service.database import reading, write
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.changes.history import change, history
from plaitlog.service.usecases.changes.undoing import redo, undo
from plaitlog.service.usecases.exporting import export_records
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.photos.encoding import EncodedPhoto, encoded
from plaitlog.service.usecases.photos.keeping import (
    add_photos,
    caption_photo,
    photo,
    photos,
    picture,
    remove_photo,
)
from tests.backups.contents import content
from tests.usecases.contents import contents
from tests.usecases.examples import WORKSHOP
from tests.usecases.pictures_taken import from_a_telephone

LABEL = "2026-014"


@cache
def taken(orientation: int = 1) -> EncodedPhoto:
    return encoded(from_a_telephone(orientation, width=96, height=64))


def do(engine: Engine, work: Callable[..., Any], *what: Any, **named: Any) -> Any:
    return write(engine, lambda session: work(session, *what, **named))


def listed(engine: Engine, label: str = LABEL) -> list[tuple[int, str | None]]:
    with reading(engine) as session:
        return [(one.number, one.caption) for one in photos(session, label)]


@pytest.fixture
def stocked(engine: Engine) -> Engine:
    do(engine, take_records, WORKSHOP)
    return engine


def test_photos_are_added_in_one_change_written_under_and_removed(stocked: Engine) -> None:
    done = do(stocked, add_photos, LABEL, [taken(), taken(3)], " on the  bench ")
    assert (done.added, done.there) == (2, 0)
    assert listed(stocked) == [(1, "on the bench"), (2, "on the bench")]
    with reading(stocked) as session:
        assert photo(session, 1).whip == LABEL
        assert picture(session, 1, small=False) == taken().whole
        assert picture(session, 2, small=True) == taken(3).small
        assert change(session, done.number).touched == {"photo": 2}
        assert (
            change(session, done.number).entries[0].words == f"photo of {LABEL}: added (caption on the bench)"
        )
    assert do(stocked, caption_photo, 2, "") is not None
    assert do(stocked, caption_photo, 2, " ") is None
    do(stocked, remove_photo, 1)
    assert listed(stocked) == [(2, None)]
    with reading(stocked) as session:
        assert [one.action for one in history(session, kind="whip", name=LABEL)][:3] == [
            "remove",
            "edit",
            "photo",
        ]


def test_everything_undone_is_everything_as_it_was_and_redone_as_it_became(stocked: Engine) -> None:
    """The pictures themselves stay: they are what a redo shows again."""
    states = [_photos_of(stocked)]
    works: list[Callable[[Any], Any]] = [
        lambda session: add_photos(session, LABEL, [taken(), taken(6)], "tip"),
        lambda session: caption_photo(session, 1, "handle"),
        lambda session: remove_photo(session, 2),
        lambda session: editing.edit_whip(session, LABEL, {"label": "2026-015"}),
        lambda session: editing.remove_whip(session, "2026-015"),
    ]
    for work in works:
        write(stocked, work)
        states.append(_photos_of(stocked))
    assert states[-1]["photos"] == []
    for state in reversed(states[:-1]):
        do(stocked, undo)
        assert _photos_of(stocked) == state
    for state in states[1:]:
        do(stocked, redo)
        assert _photos_of(stocked) == state


def _photos_of(engine: Engine) -> dict[str, list[tuple[Any, ...]]]:
    return {name: rows for name, rows in contents(engine).items() if name != "photo_contents"}


def test_the_history_holds_no_pictures_and_a_picture_is_kept_once(stocked: Engine) -> None:
    do(stocked, add_photos, LABEL, [taken(), taken()])
    do(stocked, add_photos, "old 3", [taken()])
    again = do(stocked, add_photos, LABEL, [taken()])
    assert (again.number, again.added, again.there) == (None, 0, 1)
    assert len(listed(stocked)) == 1
    do(stocked, editing.remove_whip, LABEL)
    do(stocked, undo)
    with reading(stocked) as session:
        assert session.scalar(select(func.count(PhotoContentRow.id))) == 1
        assert session.scalar(select(func.count(PhotoRow.id))) == 2
        for images in session.scalars(select(HistoryEntryRow.images)):
            assert "photo_contents" not in images
            assert len(str(images.get("photos", ""))) < 1_000
        assert picture(session, 1, small=False) == taken().whole


def test_what_came_later_stands_in_the_way_of_an_undo(stocked: Engine) -> None:
    added = do(stocked, add_photos, LABEL, [taken()])
    do(stocked, caption_photo, 1, "later")
    with pytest.raises(UndoError) as error:
        do(stocked, undo, added.number)
    assert f"a photo of {LABEL}" in error.value.finding.text


def test_a_photo_changed_in_the_meantime_shows_both_captions(stocked: Engine) -> None:
    added = do(stocked, add_photos, LABEL, [taken()], "one")
    do(stocked, caption_photo, 1, "two", version=added.number)
    with pytest.raises(StaleEditError) as error:
        do(stocked, caption_photo, 1, "three", version=added.number)
    assert error.value.conflicts == {"caption": ("three", "two")}
    with pytest.raises(StaleEditError):
        do(stocked, remove_photo, 1, version=added.number)
    assert listed(stocked) == [(1, "two")]


def test_bad_photos_leave_no_trace(stocked: Engine) -> None:
    before = contents(stocked)
    for work in (
        lambda session: add_photos(session, "2026-01", [taken()]),
        lambda session: photo(session, 9),
        lambda session: picture(session, 9, small=True),
        lambda session: remove_photo(session, 9),
    ):
        with pytest.raises(NotFoundError):
            write(stocked, work)
    for caption in ("x" * 501, "half \ud800"):
        with pytest.raises(InputError):
            do(stocked, add_photos, LABEL, [taken()], caption)
    assert contents(stocked) == before


def test_backups_carry_photos_whatever_the_kind_of_database(
    stocked: Engine, empty_database: str, tmp_path: Path
) -> None:
    do(stocked, add_photos, LABEL, [taken(), taken(8)], "kept")
    before = content(stocked)
    backup = tmp_path / "carried.db"
    place = place_of(stocked.url)
    assert place is not None
    back_up_to(stocked, place, backup)
    do(stocked, remove_photo, 1)
    restore(empty_database, backup)
    after = content(stocked)
    assert {name: after[name] for name in ("photos", "photo_contents")} == {
        name: before[name] for name in ("photos", "photo_contents")
    }
    with reading(stocked) as session:
        assert picture(session, 2, small=False) == taken(8).whole


def test_an_export_says_nothing_of_photos_and_a_fit_nothing_new(stocked: Engine) -> None:
    with reading(stocked) as session:
        before = list(export_records(session))
    do(stocked, add_photos, LABEL, [taken()])
    with reading(stocked) as session:
        assert list(export_records(session)) == before
