"""How the workshop stands, on both kinds of database."""

from sqlalchemy import Engine

from plaitlog.service.database import reading, write
from plaitlog.service.usecases.drafts import keep
from plaitlog.service.usecases.fitting import gather, store, work_out
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.maker_list import maker_list
from plaitlog.service.usecases.overview import counts, demo_change, fit_state, next_thing, unfinished
from tests.usecases.examples import WORKSHOP

NEW = {
    "kind": "whip",
    "label": "new",
    "maker": "Wilmer",
    "status": "finished",
    "made_on": "2026-05-01",
    "thong_length_mm": 1500,
    "layers": [{"role": "overlay", "cord": "Ridge 4 mm", "strands": "in: 12; p"}],
}
READING = {"kind": "reading", "whip": "new", "at_mm": 100, "diameter_mm": 14.0}


def test_what_would_help_most_follows_what_is_there(engine: Engine) -> None:
    assert _next(engine) == ("record", "")
    write(engine, lambda session: take_records(session, WORKSHOP))
    with reading(engine) as session:
        found = counts(session)
        assert (found.changes, found.fits, demo_change(session)) == (1, 0, None)
        assert found.makers == len(maker_list(session))
        worked = work_out(gather(session), with_evidence=False)
    number = write(engine, lambda session: store(session, worked))
    with reading(engine) as session:
        state = fit_state(session)
        assert state is not None
        assert (state.number, state.stale, state.unknown) == (number, False, 0)
    write(engine, lambda session: take_records(session, [NEW]))
    assert _next(engine) == ("measure", "new")
    write(engine, lambda session: take_records(session, [READING]))
    assert _next(engine) == ("refit", "")
    with reading(engine) as session:
        worked = work_out(gather(session), with_evidence=False)
        (maker,) = (one for one in maker_list(session) if one.name == "Wilmer")
        assert (maker.whips, str(maker.last)) == (1, "2026-05-01")
    write(engine, lambda session: store(session, worked))
    assert _next(engine) == ("rate", "new")
    write(engine, lambda session: keep(session, "a-token-1", "plan", "next winter", {"cord": "Ridge 4 mm"}))
    write(engine, lambda session: keep(session, "a-token-2", "aside: record", "not now", {}))
    with reading(engine) as session:
        assert [(one.kind, one.title) for one in unfinished(session)] == [("plan", "next winter")]


def _next(engine: Engine) -> tuple[str, str]:
    with reading(engine) as session:
        found = next_thing(session, counts(session), fit_state(session))
    return found.what, found.label
