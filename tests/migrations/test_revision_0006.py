"""Comparisons with another whip: their columns come and go, and leave ratings in numbers as they are."""

from alembic import command
from sqlalchemy import Engine, text

from plaitlog.service.database import reading, writing
from plaitlog.service.migrate import bring_up_to_date, migrating_connection
from plaitlog.service.revisions import alembic_config
from plaitlog.service.usecases import workshop
from plaitlog.service.usecases.importing import take_records

RECORDS = [
    {"kind": "whip", "label": "new"},
    {"kind": "whip", "label": "old"},
    {
        "kind": "rating", "whip": "new", "by": "Tamsin", "compared_with": "old",
        "scores": {"ease": "better", "volley": 6, "accuracy": "not tried"},
    },
]  # fmt: skip


def test_going_down_and_up_loses_comparisons_alone(engine: Engine) -> None:
    """A comparison must not come back as "not tried", which is something else."""
    with writing(engine) as session:
        take_records(session, RECORDS)
    with migrating_connection(engine) as connection, connection.begin():
        config = alembic_config()
        config.attributes["connection"] = connection
        command.downgrade(config, "0005")
        left = connection.execute(text("SELECT quality, score FROM scores ORDER BY id")).all()
    assert [tuple(row) for row in left] == [("volley", 6.0), ("accuracy", None)]
    bring_up_to_date(engine)
    with reading(engine) as session:
        (rating,) = workshop.whip(session, "new").ratings
    assert rating.compared_with is None
    assert rating.scores == {"volley": 6.0, "accuracy": "not tried"}
