"""The wide table as an export: what it holds is there already when it is imported again."""

import io
import json
from collections import Counter

from hypothesis import HealthCheck, Phase, given, settings
from sqlalchemy import Engine

from plaitlog.models.whip import Reading
from plaitlog.service.database import reading, writing
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.places import unplaced
from plaitlog.service.usecases.spreadsheets.notebook import Notebook, notebook_of, notebook_rows
from plaitlog.service.usecases.spreadsheets.writing import write_csv
from plaitlog.service.usecases.workshop import whips
from tests.spreadsheets.workshop_files import take
from tests.usecases.examples import WORKSHOP
from tests.usecases.nouns import Workshop, workshops
from tests.usecases.test_round_trip import emptied, exported, records_of

THOROUGH = settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)


def notebook(engine: Engine) -> tuple[Notebook, bytes]:
    with reading(engine) as session:
        found = notebook_of(session)
        return found, b"".join(write_csv(notebook_rows(session, found)))


def readings(engine: Engine) -> Counter[tuple[str, Reading]]:
    with reading(engine) as session:
        return Counter((whip.label, unplaced(each)) for whip in whips(session) for each in whip.readings)


def assert_holds(engine: Engine) -> None:
    lines, before = exported(engine), readings(engine)
    found, content = notebook(engine)
    report = take(engine, content, "notebook.csv", table="whips")
    assert set(report.counts()) - {key for key, number in report.counts().items() if not number} <= {
        "there already"
    }
    assert exported(engine) == lines
    emptied(engine)
    take(engine, content, "notebook.csv", table="whips")
    after = readings(engine)
    assert after <= before
    assert after.total() == before.total() - found.left_out
    assert notebook(engine)[1] == content


@THOROUGH
@given(workshop=workshops())
def test_any_workshop_has_a_notebook(sqlite_engine: Engine, workshop: Workshop) -> None:
    emptied(sqlite_engine)
    with writing(sqlite_engine) as session:
        take_records(session, json.loads(json.dumps(records_of(workshop))))
    assert_holds(sqlite_engine)


def test_the_example_has_a_notebook(engine: Engine) -> None:
    with writing(engine) as session:
        take_records(session, WORKSHOP)
    assert_holds(engine)


def test_two_readings_at_right_angles_a_doubtful_one_and_what_has_no_place(sqlite_engine: Engine) -> None:
    line = "in mm: 0: 19.2/18.8; 12: 14.1?; p 7.2"
    inner = {"at_mm": 0, "diameter_mm": 12, "after_layer": 1}
    whip = {"kind": "whip", "label": "n 1", "thong_length_mm": 1500, "readings": line}
    layers = [{"role": "core", "strands": [[0, 6]]}, {"role": "overlay", "strands": [[0, 16]]}]
    with writing(sqlite_engine) as session:
        take_records(session, [{**whip, "layers": layers}, {"kind": "reading", "whip": "n 1", **inner}])
    found, content = notebook(sqlite_engine)
    assert found.left_out == 1
    text = io.StringIO(content.decode("utf-8-sig"))
    head, row = (each.rstrip("\r\n").split(",") for each in text)
    cells = dict(zip(head, row, strict=True))
    assert cells["D 0 mm (mm)"] == "19.2/18.8"
    assert cells["D 304.8 mm (mm)"] == "14.1?"
    assert cells["point (mm)"] == "7.2"
