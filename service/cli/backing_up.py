"""``plaitlog backup``, ``backups`` and ``restore``: one file that brings everything back."""

from pathlib import Path
from typing import Annotated

import typer

from plaitlog.models.errors import DatabaseError, Finding
from plaitlog.service.cli.options import AsJson, Database
from plaitlog.service.cli.output import as_json, result, say, table
from plaitlog.service.cli.workshop import engine, location

WHY = {
    "asked": "asked for",
    "before-migration": "before a migration",
    "before-restore": "before a restore",
}


def register(app: typer.Typer) -> None:
    app.command("backup")(backup)
    app.command("backups")(backups)
    app.command("restore")(restore)


def backup(
    context: typer.Context,
    out: Annotated[
        Path | None,
        typer.Option("--out", help="A folder, or a file that is not there yet; else the folder of backups."),
    ] = None,
    json: AsJson = False,
    database: Database = None,
) -> None:
    """Write everything to one file, while others may go on working, and check it.

    In its own folder the newest are kept (PLAITLOG_BACKUPS_KEPT), with the first and the newest of each day
    and the newest of each revision; files elsewhere are never removed.
    """
    from plaitlog.service.backups.checking import counted
    from plaitlog.service.backups.files import place_of
    from plaitlog.service.backups.making import back_up, back_up_to
    from plaitlog.service.settings import Settings

    found = engine(context, database)
    place = place_of(found.url, Settings().backups_kept)
    if place is None:
        raise DatabaseError(Finding("in-memory", "a database in memory has no backups", "name a file"))
    made = back_up(found, place, "asked") if out is None else back_up_to(found, place, out)
    whips, readings = counted(made.file)
    if json:
        as_json(
            {
                "file": str(made.file),
                "made_at": made.made_at.isoformat(),
                "revision": made.revision,
                "size_bytes": made.size_bytes,
                "whips": whips,
                "readings": readings,
            }
        )
        return
    result(str(made.file))
    say(f"{whips} whips with {readings} readings, {_size(made.size_bytes)}; checked.")


def backups(context: typer.Context, json: AsJson = False, database: Database = None) -> None:
    """List the backups of the database, the newest first."""
    from plaitlog.service.backups.files import place_of
    from plaitlog.service.backups.listing import list_backups
    from plaitlog.service.database import database_url

    place = place_of(database_url(location(context, database)))
    found = [] if place is None else list_backups(place)
    if json:
        as_json(
            [
                {
                    "file": str(one.backup.file),
                    "made_at": one.backup.made_at.isoformat(),
                    "revision": one.backup.revision,
                    "why": one.backup.why,
                    "size_bytes": one.backup.size_bytes,
                    "whips": one.whips,
                    "readings": one.readings,
                    "damage": one.damage,
                }
                for one in found
            ]
        )
        return
    if place is None or not found:
        say("There is no backup yet: plaitlog backup makes one.")
        return
    say(f"In {place.folder}:")
    table(
        ("made", "why", "revision", "whips", "readings", "size", "file"),
        [
            (
                f"{one.backup.made_at.astimezone():%Y-%m-%d %H:%M}",
                WHY[one.backup.why],
                one.backup.revision,
                one.whips if one.damage is None else "damaged",
                one.readings,
                _size(one.backup.size_bytes),
                one.backup.file.name,
            )
            for one in found
        ],
        right=("whips", "readings", "size"),
    )


def restore(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="A backup: a file, or a name as plaitlog backups lists it.")],
    json: AsJson = False,
    database: Database = None,
) -> None:
    """Put the records of a backup in the place of all that are there, which are backed up first."""
    from plaitlog.service.backups.checking import counted
    from plaitlog.service.backups.files import place_of
    from plaitlog.service.backups.restoring import restore as restore_file
    from plaitlog.service.database import database_url
    from plaitlog.service.settings import Settings

    where = location(context, database)
    place = place_of(database_url(where))
    if place is not None and not file.exists() and file == Path(file.name):
        file = place.folder / file if (place.folder / file).exists() else file
    settings = Settings()
    done = restore_file(
        where, file, busy_timeout_s=settings.busy_timeout_s, backups_kept=settings.backups_kept
    )
    whips, readings = counted(file)
    before = None if done.before is None else str(done.before.file)
    if json:
        as_json(
            {
                "file": str(file),
                "revision": done.revision,
                "whips": whips,
                "readings": readings,
                "before": before,
                "set_aside": None if done.set_aside is None else str(done.set_aside),
            }
        )
        return
    result(f"Restored {whips} whips with {readings} readings from {file}.")
    if done.set_aside is not None:
        say(f"The damaged database was moved to {done.set_aside}; start programs that had it open again.")
    if before is not None:
        say(f"What was there before is in {before}; plaitlog restore with that file brings it back.")


def _size(size_bytes: int) -> str:
    return f"{size_bytes / 1e6:.1f} MB" if size_bytes >= 1e6 else f"{size_bytes / 1e3:.0f} kB"
