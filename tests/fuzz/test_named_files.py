"""Sixty and more named malformed files, opened as tables: no crash, no row lost, every refusal complete."""

import io

import pytest

from plaitlog.models.errors import Finding, TableError
from plaitlog.service.usecases.spreadsheets.reading import open_table
from plaitlog.service.usecases.spreadsheets.table import RawRow, Workbook
from tests.fuzz.corpus import CORPUS
from tests.fuzz.malformed import Malformed

BY_CONTENT = [case for case in CORPUS if case.error not in ("column-unknown",)]


def opened(case: Malformed) -> tuple[Workbook, list[list[RawRow]]]:
    """The file, and the rows of each sheet, header first."""
    workbook = open_table(io.BytesIO(case.data), case.file_name, size_bytes=len(case.data))
    return workbook, [list(sheet.rows) for sheet in workbook.sheets]


def test_the_corpus_is_as_large_as_promised_and_every_name_is_its_own() -> None:
    assert len({case.name for case in CORPUS}) == len(CORPUS) >= 60


@pytest.mark.parametrize("case", [case for case in BY_CONTENT if case.error is None], ids=str)
def test_every_row_is_given_or_refused_with_place_value_and_remedy(case: Malformed) -> None:
    workbook, sheets = opened(case)
    assert sum(len(rows) - 1 for rows in sheets) == case.rows
    assert {finding.code for finding in workbook.findings} == set(case.findings)
    refused = {row.number: row.refusal for rows in sheets for row in rows[1:] if row.refusal is not None}
    assert sorted(refused) == sorted(case.at_sight)
    for number, finding in refused.items():
        assert_complete(finding)
        for words in case.rejected[number]:
            assert words in str(finding)


@pytest.mark.parametrize("case", [case for case in BY_CONTENT if case.error is not None], ids=str)
def test_a_file_that_cannot_be_read_is_refused_by_name_and_says_what_to_do(case: Malformed) -> None:
    with pytest.raises(TableError) as refused:
        opened(case)
    assert refused.value.finding.code == case.error
    assert refused.value.finding.where.startswith(case.file_name)
    assert_complete(refused.value.finding)


def assert_complete(finding: Finding) -> None:
    """Whoever reads it knows where to look, what is wrong, and what to do."""
    assert finding.where
    assert finding.text
    assert finding.remedy
