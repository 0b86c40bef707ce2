"""Injured files, imported: every row is taken, rejected with place and remedy, or said to be passed over."""

import io
import random
import re
from collections.abc import Iterator

import pytest
from sqlalchemy import Engine

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.database import writing
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.import_report import ImportReport
from plaitlog.service.usecases.spreadsheets.importing import import_table
from plaitlog.service.usecases.spreadsheets.reading import open_table
from tests.fuzz.mutation import mutated
from tests.fuzz.test_mutated_files import SEEDS, rows_of
from tests.fuzz.test_named_files import assert_complete

BATCHES, BATCH = 20, 100


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    """A workshop that stays empty: what a test imports is taken back."""
    engine, _ = ready_engine(str(tmp_path_factory.mktemp("mutated") / "plaitlog.db"))
    yield engine
    engine.dispose()


@pytest.mark.parametrize("batch", range(BATCHES))
def test_every_row_of_an_injured_file_is_accounted_for(engine: Engine, batch: int) -> None:
    chance = random.Random(100 + batch)
    for _ in range(BATCH):
        data = mutated(chance.choice(SEEDS), chance)
        report = imported(engine, data)
        if report is None:
            continue
        workbook = open_table(io.BytesIO(data), "whips.csv")
        passed_over = sum(said.startswith("line ") and " was passed over" in said for said in report.said)
        assert 1 + sum(report.counts().values()) + passed_over == rows_of(data, workbook), data
        for row in report.rows:
            if row.outcome == "rejected":
                assert row.findings
                for finding in row.findings:
                    assert_says_what_to_mend(finding)


def imported(engine: Engine, data: bytes) -> ImportReport | None:
    """What became of the rows, or None where the file is refused whole; nothing stays."""
    with writing(engine) as session:
        try:
            return import_table(
                session, io.BytesIO(data), "whips.csv", table="whips", partial=True, rejects=io.BytesIO()
            )
        except InputError as error:
            refused = error.finding
        finally:
            session.rollback()
    assert refused.text
    assert refused.remedy
    return None


def assert_says_what_to_mend(finding: Finding) -> None:
    """A row that goes with another names that row's line; its own columns are sound."""
    if finding.code == "rejected-with-whip":
        assert re.search(r"line \d+", finding.text)
        assert finding.remedy
    else:
        assert_complete(finding)
