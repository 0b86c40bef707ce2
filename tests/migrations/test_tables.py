"""What the tables themselves refuse, whoever writes to them."""

import datetime as dt
from typing import Any

import pytest
from sqlalchemy import Engine, insert, select
from sqlalchemy.exc import IntegrityError, StatementError

from plaitlog.models.tables import Base, FitRow, MakerRow, ReadingRow, ScoreRow, WhipRow
from plaitlog.service.database import reading, writing

READING: dict[str, Any] = {"whip_id": 1, "at_mm": 300.0, "diameter_mm": 12.0, "doubtful": False}
FIT: dict[str, Any] = {"code_version": "1", "fingerprint": "f", "artefact": {}, "current": True}


@pytest.mark.parametrize(
    ("table", "row"),
    [
        (WhipRow, {"label": "w"}),
        (WhipRow, {"label": "x", "thong_length_mm": 0.0}),
        (WhipRow, {"label": "x", "maker_id": 99}),
        (ReadingRow, {**READING, "diameter_mm": -1.0}),
        (ReadingRow, {**READING, "diameter_mm": None}),
        (ReadingRow, {**READING, "girth_mm": 40.0}),
        (ReadingRow, {**READING, "at_mm": None}),
        (ReadingRow, {**READING, "whip_id": 99}),
        (ScoreRow, {"session_id": 99, "quality": "ease", "score": 7.0}),
        (FitRow, FIT),
    ],
)
def test_rows_that_cannot_be(engine: Engine, table: type[Base], row: dict[str, Any]) -> None:
    def write_both() -> None:
        with engine.begin() as connection:
            connection.execute(insert(WhipRow), {"id": 1, "label": "w"})
            connection.execute(insert(FitRow), FIT)
            connection.execute(insert(table), row)

    with pytest.raises(IntegrityError):
        write_both()


def test_a_fit_in_use_makes_way_for_another(engine: Engine) -> None:
    with writing(engine) as session:
        session.add(FitRow(**FIT))
    with writing(engine) as session:
        session.scalars(select(FitRow)).one().current = False
        session.flush()
        session.add(FitRow(**{**FIT, "fingerprint": "g"}))
    with reading(engine) as session:
        fits = session.scalars(select(FitRow).order_by(FitRow.id)).all()
        assert [(fit.fingerprint, fit.current) for fit in fits] == [("f", False), ("g", True)]


def test_instants_are_aware_and_in_utc(engine: Engine) -> None:
    noon_in_oslo = dt.datetime(2026, 7, 1, 12, tzinfo=dt.timezone(dt.timedelta(hours=2)))
    with writing(engine) as session:
        session.add(MakerRow(name="Orrin", created_at=noon_in_oslo))
        session.add(MakerRow(name="Tamsin"))
    with reading(engine) as session:
        orrin, tamsin = session.scalars(select(MakerRow.created_at).order_by(MakerRow.id))
    assert (orrin.hour, orrin.tzinfo) == (10, dt.UTC)
    assert abs(dt.datetime.now(dt.UTC) - tamsin) < dt.timedelta(minutes=5)

    def without_zone() -> None:
        with writing(engine) as session:
            session.add(MakerRow(name="Fenn", created_at=dt.datetime(2026, 7, 1, 12)))  # noqa: DTZ001

    with pytest.raises(StatementError, match="without a time zone"):
        without_zone()
