"""Drafts: kept save by save, in whatever order saves arrive, until what they say is recorded."""

import datetime as dt

from sqlalchemy import Engine, update

from plaitlog.models.tables.base import now
from plaitlog.models.tables.bench import DraftRow
from plaitlog.service.database import reading, write
from plaitlog.service.usecases import drafts


def save(
    engine: Engine, text: str, *, token: str = "token-one", tab: str = "a", turn: int = 1, seen: int = 0
) -> drafts.Kept | drafts.Receipt:
    texts = {"label": text}
    return write(
        engine,
        lambda session: drafts.keep(session, token, "record", text, texts, tab=tab, turn=turn, seen=seen),
    )


def label(engine: Engine, token: str = "token-one") -> object:
    with reading(engine) as session:
        found = drafts.one(session, token)
    return found.texts["label"] if isinstance(found, drafts.Draft) else found


def titles(engine: Engine) -> list[str]:
    with reading(engine) as session:
        return [draft.title for draft in drafts.drafts(session, "record")]


def test_the_last_save_of_a_window_stays_though_an_older_one_arrives_late(engine: Engine) -> None:
    save(engine, "b", turn=2)
    save(engine, "c", turn=3)
    assert save(engine, "a", turn=1) == drafts.Kept("token-one", 3)
    assert label(engine) == "c"


def test_a_window_left_behind_is_kept_beside_what_another_saved(engine: Engine) -> None:
    save(engine, "begun", tab="a", turn=1)
    save(engine, "newer", tab="b", turn=5, seen=1)
    kept = save(engine, "older", tab="a", turn=2, seen=1)
    assert isinstance(kept, drafts.Kept)
    assert kept.beside
    assert label(engine) == "newer"
    assert label(engine, kept.token) == "older"
    assert sorted(titles(engine)) == ["newer", "older"]


def test_a_draft_put_aside_can_be_brought_back(engine: Engine) -> None:
    save(engine, "a")
    write(engine, lambda session: drafts.put_aside(session, "token-one"))
    assert titles(engine) == []
    assert label(engine) == "a"
    write(engine, lambda session: drafts.bring_back(session, "token-one"))
    assert titles(engine) == ["a"]


def test_what_is_recorded_is_no_draft_any_more_and_late_saves_do_not_bring_it_back(engine: Engine) -> None:
    save(engine, "a")
    write(engine, lambda session: drafts.finish(session, "token-one", "a", 7))
    assert save(engine, "late", turn=9) == drafts.Receipt("a", 7)
    assert titles(engine) == []
    write(engine, lambda session: drafts.finish(session, "never-saved", "b", 8))
    assert label(engine, "never-saved") == drafts.Receipt("b", 8)


def test_receipts_and_drafts_put_aside_go_in_the_end_and_drafts_stay(engine: Engine) -> None:
    for token in ("recorded", "put-aside", "unfinished"):
        save(engine, token, token=token)
    write(engine, lambda session: drafts.finish(session, "recorded", "a", 1))
    write(engine, lambda session: drafts.put_aside(session, "put-aside"))
    long_ago = now() - drafts.KEPT_FOR - dt.timedelta(days=1)
    write(engine, lambda session: session.execute(update(DraftRow).values(changed_at=long_ago)))
    write(engine, lambda session: drafts.finish(session, "another", "b", 2))
    assert (label(engine, "recorded"), label(engine, "put-aside")) == (None, None)
    assert titles(engine) == ["unfinished"]
