"""Look at everything, from the disk up to the fit; each look stands by itself, whatever the others find."""

import datetime as dt
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import Final

from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from plaitlog.models.errors import DatabaseError, PlaitlogError
from plaitlog.service.backups.files import place_of
from plaitlog.service.database import database_url, open_engine, reading
from plaitlog.service.doctor import disk, records, sqlite_file
from plaitlog.service.doctor.check import Check
from plaitlog.service.migrate import HEAD
from plaitlog.service.revisions import current_revision, known_revisions

LONG_AGO: Final = dt.datetime.min.replace(tzinfo=dt.UTC)
"""Stands for the time of the last change where it cannot be told."""


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
    yield sqlite_file.there(file, size)
    yield disk.share(disk.nearest_folder(file.parent))
    yield disk.rights(file, place.folder)
    yield disk.free_space(file.parent, size)
    if size == 0 or not sqlite_file.is_database(file):
        return
    integrity = sqlite_file.integrity(file)
    yield integrity
    changed_at: dt.datetime | None = LONG_AGO
    if integrity.state == "ok":
        yield sqlite_file.settings(file)
        with sqlite_file.engine_for_looking(file) as engine, Session(engine) as session:
            changed_at = yield from _inside(session)
    yield records.newest_backup(place, changed_at, dt.datetime.now(dt.UTC))


def _server(engine: Engine) -> Iterator[Check]:
    place = place_of(engine.url)
    assert place is not None
    name = engine.url.render_as_string(hide_password=True)
    try:
        with reading(engine) as session:
            version = session.connection().dialect.server_version_info or ()
            yield Check("database", "ok", f"{name}; PostgreSQL {'.'.join(map(str, version))}")
            changed_at = yield from _inside(session)
        yield records.newest_backup(place, changed_at, dt.datetime.now(dt.UTC))
    except (DatabaseError, DBAPIError) as error:
        yield Check("database", "trouble", str(error).splitlines()[0], "check the address and the server")
    finally:
        engine.dispose()


def _inside(session: Session) -> Generator[Check, None, dt.datetime | None]:
    """Revision and fit, as far as the tables are those of this version; returns when it was last changed."""
    try:
        found = current_revision(session.connection())
    except DatabaseError:
        yield Check("revision", "trouble", "it holds tables of another program", "name another database")
        return LONG_AGO
    yield _revision(found)
    if found is None:
        return None
    if found != HEAD and found not in known_revisions():
        return LONG_AGO
    if found == HEAD:
        try:
            yield from records.fit(session)
        except PlaitlogError as error:
            yield Check("fit", "trouble", str(error), "plaitlog fit makes a new one")
    return records.latest_change(session)


def _revision(found: str | None) -> Check:
    if found == HEAD:
        return Check("revision", "ok", f"{HEAD}, which this version works with")
    if found is None:
        return Check("revision", "note", "it holds no tables yet", "any command makes them")
    if found in known_revisions():
        text = f"{found} is older than {HEAD}; fit and suspects were not looked at"
        return Check("revision", "note", text, "any other command backs it up and migrates it")
    return Check("revision", "trouble", f"{found} is of a newer version", "update the program")
