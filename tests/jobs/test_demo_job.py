"""The demo as long work: one import and a fit, both or neither, and one undo takes it out again."""

import pytest
from sqlalchemy import Engine

from plaitlog.models.errors import DatabaseError
from plaitlog.service.database import reading, write
from plaitlog.service.usecases.adding import add_record
from plaitlog.service.usecases.changes.history import history
from plaitlog.service.usecases.changes.undoing import redo, undo
from plaitlog.service.usecases.overview import counts, demo_change, fit_state
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.workshop import is_empty
from plaitlog.service.work.demo import work


def test_the_demo_comes_and_goes_as_one_change(sqlite_engine: Engine) -> None:
    write(sqlite_engine, lambda session: add_record(session, {"kind": "whip", "label": "tried out"}))
    write(sqlite_engine, undo)  # numbers and versions are not those of a fresh workshop any more
    shares: list[float] = []
    finish = work(sqlite_engine, {"evidence": False}, lambda words, share: shares.append(share))
    assert shares == sorted(shares)
    assert max(shares) <= 1
    with reading(sqlite_engine) as session:
        assert is_empty(session)  # all is written at the end, at once
    result = write(sqlite_engine, finish)
    with reading(sqlite_engine) as session:
        (change, *_) = history(session)
        assert (change.action, change.number) == ("import", result["change"])
        assert demo_change(session) == result["change"]
        assert result["address"] == "/"  # it says how to take the demo out again
        state, found = fit_state(session), counts(session)
        assert state is not None
        assert not state.stale
        assert state.unknown == 0
        assert state.readings > 500
        assert fit_in_force(session).findings == ()
        assert found.whips > 50
    write(sqlite_engine, lambda session: undo(session, result["change"]))
    with reading(sqlite_engine) as session:
        assert is_empty(session)
        assert demo_change(session) is None
        # What was learnt from invented whips must not predict for those that come now.
        assert fit_in_force(session).number is None
        assert fit_state(session) is None
    write(sqlite_engine, lambda session: add_record(session, {"kind": "whip", "label": "my own"}))
    with reading(sqlite_engine) as session:
        assert fit_in_force(session).number is None
    with pytest.raises(DatabaseError):
        work(sqlite_engine, {}, lambda words, share: None)
    with pytest.raises(DatabaseError):
        write(sqlite_engine, finish)  # somebody recorded a whip while it was worked out
    write(sqlite_engine, lambda session: redo(session, result["change"]))
    with reading(sqlite_engine) as session:
        assert fit_in_force(session).number == 1
