"""A backup of every released revision restores, on both databases: nothing of what was recorded is lost."""

import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import Engine, create_engine

from plaitlog.service.backups.checking import sound_revision
from plaitlog.service.backups.files import BackupPlace
from plaitlog.service.backups.restoring import restore
from plaitlog.service.backups.row_copy import copy_rows
from plaitlog.service.database import open_engine, reading
from plaitlog.service.migrate import HEAD, bring_up_to_date
from plaitlog.service.revisions import migrate_to
from plaitlog.service.usecases.exporting import export_lines
from plaitlog.service.usecases.fitting import list_fits
from plaitlog.service.usecases.predicting import fit_in_force
from tests.backups.contents import FIRST, FIRST_EXPORT, counts


def rows_of(file: Path) -> dict[str, list[tuple[object, ...]]]:
    with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro&immutable=1", uri=True)) as connection:
        names = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
        return {
            name: connection.execute(f"SELECT * FROM {name}").fetchall()
            for (name,) in names
            if not name.startswith("sqlite")
        }


def exported(engine: Engine) -> bytes:
    with reading(engine) as session:
        return b"".join(export_lines(session))


def test_the_first_revision_restores_and_exports_as_it_did_then(empty_database: str) -> None:
    done = restore(empty_database, FIRST)
    assert (done.revision, done.before) == ("0001", None)
    engine = open_engine(empty_database)
    assert exported(engine) == FIRST_EXPORT.read_bytes()
    then = {name: len(rows) for name, rows in rows_of(FIRST).items()}
    now = counts(engine)
    assert {name: now[name] for name in then if name in now} == {
        name: number for name, number in then.items() if name in now
    }
    with reading(engine) as session:
        assert [one.number for one in list_fits(session)] == [1]
        # That fit knew fewer features: predictions rest on the priors until the next one, and say so.
        told = fit_in_force(session).calibration.findings
        assert [finding.code for finding in told] == ["fit-of-another-version"]
    engine.dispose()


def test_an_older_database_is_backed_up_before_it_is_migrated(blank_engine: Engine, tmp_path: Path) -> None:
    """On both kinds: the backup holds the very rows, at their own revision."""
    engine, place = blank_engine, BackupPlace(tmp_path / "kept", "workshop")
    source_engine = create_engine(f"sqlite:///{FIRST}")
    with source_engine.connect() as source, engine.begin() as target:
        migrate_to(target, "0001")
        copy_rows(source, target)
    source_engine.dispose()
    done = bring_up_to_date(engine, place)
    assert done is not None
    assert (done.kind, done.old, str(done.backup) in str(done)) == ("migrated", "0001", True)
    assert exported(engine) == FIRST_EXPORT.read_bytes()
    assert done.backup is not None
    assert sound_revision(done.backup) == "0001"
    assert rows_of(done.backup) == rows_of(FIRST)
    other = str(tmp_path / "other.db")
    restore(other, done.backup)
    restored = open_engine(other)
    assert exported(restored) == FIRST_EXPORT.read_bytes()
    restored.dispose()
    assert HEAD != "0001"
