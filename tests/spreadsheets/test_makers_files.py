"""What makers already have comes in as it is: a notebook, a long list of readings, an office export."""

import json

import pytest
from sqlalchemy import Engine

from plaitlog.service.database import reading
from plaitlog.service.usecases.exporting import export_records
from tests.spreadsheets.makers_files import (
    MIXED,
    MIXED_READINGS,
    NOTEBOOK,
    OFFICE,
    notebook,
    office_export,
)
from tests.spreadsheets.workshop_files import take


def stored(engine: Engine) -> list[object]:
    with reading(engine) as session:
        return json.loads(json.dumps(list(export_records(session))))  # type: ignore[no-any-return]


def test_a_notebook_comes_in_as_it_is_and_says_how_it_was_read(sqlite_engine: Engine) -> None:
    report = take(sqlite_engine, notebook(), "notebook.xlsx")
    assert stored(sqlite_engine) == NOTEBOOK
    assert report.counts() == {"add": 5, "update": 0, "there already": 0, "rejected": 0}
    said = "\n".join(report.said)
    assert "'Thong [ft]' = thong_length_mm in ft" in said
    assert "'D12' = reading at 12 in in mm" in said
    assert "above the header was passed over: 'Whip notebook, begun 2019'" in said
    assert "passed over as a remark: 'All diameters read after rolling, before the wax'" in said


def test_a_list_of_readings_in_mixed_units_comes_in_as_typed(sqlite_engine: Engine) -> None:
    take(sqlite_engine, notebook(), "notebook.xlsx")
    before = {each["label"]: each.get("readings", []) for each in NOTEBOOK if each["kind"] == "whip"}
    report = take(sqlite_engine, MIXED_READINGS, "readings.csv")
    assert report.readings_added == 6
    found = {each["label"]: each["readings"] for each in stored(sqlite_engine) if each["kind"] == "whip"}  # type: ignore[index]
    for label, more in MIXED.items():
        assert [each for each in found[label] if each not in before[label]] == more


@pytest.mark.parametrize(
    ("encoding", "delimiter"), [("cp1252", ";"), ("utf-8-sig", ";"), ("utf-16", "\t"), ("utf-8", "|")]
)
def test_an_export_of_an_office_program_with_decimal_commas_comes_in(
    sqlite_engine: Engine, encoding: str, delimiter: str
) -> None:
    report = take(sqlite_engine, office_export(encoding, delimiter), "export.csv")
    assert [each for each in stored(sqlite_engine) if each["kind"] == "whip"] == OFFICE  # type: ignore[index]
    assert "numbers are read with a decimal comma" in report.said


@pytest.mark.parametrize("content", [notebook(), MIXED_READINGS.encode(), office_export("cp1252")])
def test_the_same_file_twice_changes_nothing(sqlite_engine: Engine, content: bytes) -> None:
    take(sqlite_engine, notebook(), "notebook.xlsx")
    take(sqlite_engine, content, "file")
    before = stored(sqlite_engine)
    again = take(sqlite_engine, content, "file")
    assert stored(sqlite_engine) == before
    assert again.counts()["there already"] == sum(again.counts().values())
