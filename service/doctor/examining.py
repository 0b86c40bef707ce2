"""Look at everything, from the disk up to the fit; each look stands by itself, whatever the others find."""

import datetime as dt
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from plaitlog.models.errors import DatabaseError, PlaitlogError
from plaitlog.service.backups.files import BackupPlace, place_of
from plaitlog.service.database import database_url, open_engine, reading
from plaitlog.service.doctor import disk, records, sqlite_file
from plaitlog.service.doctor.check import Check
from plaitlog.service.migrate import HEAD
from plaitlog.service.revisions import current_revision, known_revisions


def examine(database: str) -> Iterator[Check]:
    """One line after the other; DatabaseError where ``database`` names none that could be."""
    url = database_url(database)
    if url.get_backend_name() == "sqlite":
        yield from _sqlite(Path(str(url.database)))
    else:
        yield from _server(open_engine(database))
    place = place_of(url)
    if place is not None:
        yield records.leftovers(place.folder)


def _sqlite(file: Path) -> Iterator[Check]:
    place = place_of(database_url(str(file)))
    assert place is not None
    size = file.stat().st_size if file.is_file() else 0
    here = f"{file}, {size / 1e3:,.0f} kB; SQLite {sqlite3.sqlite_version}"
    if size == 0:
        yield Check("database", "note", f"there is none yet at {file}", "any command makes it")
    else:
        yield Check("database", "ok", here)
    yield disk.share(disk.nearest_folder(file.parent))
    yield disk.rights(file, place.folder)
    yield disk.free_space(file.parent, size)
    if size == 0:
        return
    try:
        yield sqlite_file.settings(file)
    except sqlite3.DatabaseError as error:
        yield Check("settings", "trouble", str(error), "name another file, or restore a backup")
        return
    yield sqlite_file.integrity(file)
    with sqlite_file.engine_for_looking(file) as engine, Session(engine) as session:
        yield from _inside(session, place)


def _server(engine: Engine) -> Iterator[Check]:
    try:
        with reading(engine) as session:
            version = session.connection().dialect.server_version_info or ()
            name = engine.url.render_as_string(hide_password=True)
            yield Check("database", "ok", f"{name}; PostgreSQL {'.'.join(map(str, version))}")
            yield from _inside(session, place_of(engine.url))
    except DatabaseError as error:
        yield Check("database", "trouble", error.finding.text, error.finding.remedy)
    finally:
        engine.dispose()


def _inside(session: Session, place: BackupPlace | None) -> Iterator[Check]:
    """Revision, fit and backups, as far as the tables are those of this version."""
    changed_at = None
    try:
        found = current_revision(session.connection())
        yield _revision(found)
        if found == HEAD or (found is not None and found in known_revisions()):
            changed_at = records.latest_change(session)
        if found == HEAD:
            yield from records.fit(session)
    except DatabaseError:
        yield Check("revision", "trouble", "it holds tables of another program", "name another database")
        return
    except (DBAPIError, PlaitlogError) as error:
        yield Check("records", "trouble", str(error).splitlines()[0], "plaitlog backups, then restore one")
    if place is not None:
        yield records.newest_backup(place, changed_at, dt.datetime.now(dt.UTC))


def _revision(found: str | None) -> Check:
    if found == HEAD:
        return Check("revision", "ok", f"{HEAD}, which this version works with")
    if found is None:
        return Check("revision", "note", "it holds no tables yet", "any command makes them")
    if found in known_revisions():
        text = f"{found} is older than {HEAD}; fit and suspects were not looked at"
        return Check("revision", "note", text, "any other command backs it up and migrates it")
    return Check("revision", "trouble", f"{found} is of a newer version", "update the program")
