"""The same named files, imported: accepted and rejected rows add up, and every reject tells where and why."""

import io
from collections.abc import Iterator

import pytest
from sqlalchemy import Engine, func, select
from sqlalchemy.orm import Session

from plaitlog.models.errors import InputError
from plaitlog.models.tables import Base
from plaitlog.service.database import writing
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.import_report import ImportReport
from plaitlog.service.usecases.spreadsheets.importing import import_table
from tests.fuzz.corpus import CORPUS
from tests.fuzz.malformed import Malformed


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    """A workshop that stays empty: what a test imports is taken back."""
    engine, _ = ready_engine(str(tmp_path_factory.mktemp("corpus") / "plaitlog.db"))
    yield engine
    engine.dispose()


@pytest.fixture
def session(engine: Engine) -> Iterator[Session]:
    with writing(engine) as session:
        yield session
        session.rollback()


def imported(session: Session, case: Malformed) -> tuple[ImportReport, bytes]:
    """The report, and the file of rejected rows."""
    rejects = io.BytesIO()
    stream = io.BytesIO(case.data)
    report = import_table(session, stream, case.file_name, table="whips", partial=True, rejects=rejects)
    return report, rejects.getvalue()


def rows_stored(session: Session) -> int:
    return sum(
        session.scalar(select(func.count()).select_from(table)) or 0 for table in Base.metadata.sorted_tables
    )


@pytest.mark.parametrize("case", [case for case in CORPUS if case.error is None], ids=str)
def test_accepted_and_rejected_rows_are_all_rows(session: Session, case: Malformed) -> None:
    report, rejects = imported(session, case)
    counts = report.counts()
    assert sum(counts.values()) == case.rows
    assert counts["rejected"] == len(case.rejected)
    told = {row.line: row for row in report.rows if row.outcome == "rejected"}
    assert set(told) <= set(case.rejected)
    assert len(told) == len(case.rejected) or len(told) >= 100
    for line, row in told.items():
        words = " ".join(str(finding.at(row.place)) for finding in row.findings)
        assert f"line {line}" in words or f"row {line} of sheet" in words
        for expected in case.rejected[line]:
            assert expected in words
        assert all(finding.where and finding.text and finding.remedy for finding in row.findings), words
    assert bool(rejects) == bool(case.rejected)


@pytest.mark.parametrize("case", [case for case in CORPUS if case.error is not None], ids=str)
def test_a_file_that_cannot_be_read_leaves_no_trace(session: Session, case: Malformed) -> None:
    before = rows_stored(session)
    with pytest.raises(InputError) as refused:
        imported(session, case)
    assert refused.value.finding.code == case.error
    assert rows_stored(session) == before
