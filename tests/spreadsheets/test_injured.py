"""Injured tables of every kind: taken or refused row by row, each refusal with its remedy; never a crash."""

import csv
import io
import random

import pytest
from sqlalchemy import Engine

from plaitlog.models.errors import Finding, ImportRefusedError, InputError
from plaitlog.service.database import writing
from plaitlog.service.usecases.importing import take_records
from tests.spreadsheets.makers_files import MIXED_READINGS, office_export
from tests.spreadsheets.workshop_files import as_csv, take
from tests.usecases.examples import WORKSHOP

BATCHES, BATCH = 4, 150
SPLINTERS = [
    '"', ",", ";", "\n", "\r", "\t", "\0", "'", "=", "-", "1e309", "NaN", "none", "1,234", "\u201c", "?", "/",
    "[", "{", "[[0,6]]", "[1]", '{"a":1}', "mm: ", "p", "99999999999999999999", "0", "true", "inf",
    "2026-13-45", "03/04/2026", " + ", "A = B", '"\\ud800"', "\xe9",
]  # fmt: skip


def injured(content: bytes, chance: random.Random) -> bytes:
    """The header as it was, and what lies below it cut, filled and overwritten in some places."""
    start = content.find(b"\n") + 1
    found = bytearray(content)
    for _ in range(chance.randrange(1, 8)):
        at = chance.randrange(start, len(found) + 1) if start <= len(found) else len(found)
        splinter = chance.choice(SPLINTERS).encode()
        match chance.randrange(4):
            case 0 | 1:
                found[at:at] = splinter
            case 2:
                found[at : at + chance.randrange(1, 6)] = splinter
            case _:
                del found[at : at + chance.randrange(1, 12)]
    return bytes(found)


@pytest.mark.parametrize("batch", range(BATCHES))
def test_injured_tables_lose_no_row_and_every_refusal_is_complete(sqlite_engine: Engine, batch: int) -> None:
    with writing(sqlite_engine) as session:
        take_records(session, WORKSHOP)
    tables = [*as_csv(sqlite_engine).items(), ("readings.csv", MIXED_READINGS.encode())]
    tables.append(("export.csv", office_export("cp1252")))
    chance = random.Random(batch)
    taken = rejected = 0
    refusals: list[Finding] = []
    for _ in range(BATCH):
        name, content = chance.choice(tables)
        kept = io.BytesIO()
        try:
            data = injured(content, chance)
            report = take(sqlite_engine, data, name, partial=True, rejects=kept, dry_run=True)
        except ImportRefusedError as error:
            refusals += error.findings
            continue
        except InputError as error:
            refusals.append(error.finding)
            continue
        counts = report.counts()
        taken, rejected = taken + sum(counts.values()) - counts["rejected"], rejected + counts["rejected"]
        for row in report.rows:
            if row.outcome == "rejected":
                assert row.findings
                refusals += row.findings
        if name != "export.csv":
            again = csv.reader(io.StringIO(kept.getvalue().decode("utf-8-sig"), newline=""))
            assert max(sum(1 for _ in again) - 1, 0) == counts["rejected"]
    assert [finding for finding in refusals if not (finding.text and finding.remedy)] == []
    assert min(taken, rejected) > BATCH / 2
