"""What the pages of backups show, as plain data."""

import sqlite3
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Engine

from plaitlog.models.errors import DatabaseError, Finding
from plaitlog.service.backups.checking import counted
from plaitlog.service.backups.contents import Contents, contents_of_database, contents_of_file
from plaitlog.service.backups.files import Backup, BackupPlace, backups_in
from plaitlog.service.database import reading
from plaitlog.service.pages.importing.view import size_words
from plaitlog.service.pages.rendering import moment
from plaitlog.service.usecases.jobs import latest_jobs

WHY: Final = {
    "asked": "asked for",
    "before-migration": "before an update",
    "before-restore": "before a restore",
}
_WORDS: Final = {
    "makers": "Makers",
    "cords": "Cords",
    "whips": "Whips",
    "readings": "Readings",
    "rating_sessions": "Rating sessions",
    "photos": "Photos",
    "fits": "Fits",
}


def list_data(place: BackupPlace, made: str | None, before: str | None) -> dict[str, Any]:
    """The backups of a place; ``made`` and ``before`` are names of which one is told what they are."""
    found = [_backup(one) for one in backups_in(place)]
    names = {one["name"] for one in found}
    return {
        "backups": found,
        "folder": str(place.folder),
        "kept": place.kept,
        "made": next((one for one in found if one["name"] == made), None),
        "before": before if before in names else None,
    }


def in_words(one: Backup) -> str:
    """A backup of the list as a person knows it."""
    return f"The backup of {one.made_at.astimezone():%Y-%m-%d %H:%M:%S}, {WHY[one.why]}"


def _backup(one: Backup) -> dict[str, Any]:
    held: tuple[int, int] | tuple[None, None] = None, None
    size = ""
    with suppress(sqlite3.DatabaseError, OSError):  # damaged: the list tells it and goes on
        size = size_words(one.size_bytes)
        held = counted(one.file)
    return {
        "name": one.file.name,
        "made_at": f"{one.made_at.astimezone():%Y-%m-%d %H:%M:%S}",
        "why": WHY[one.why],
        "size": size,
        "whips": held[0],
        "readings": held[1],
    }


def comparison(file: Path, engine: Engine) -> dict[str, Any]:
    """What a backup holds against what is there now, row by row."""
    there, here = contents_of_file(file), contents_of_database(engine)
    rows = [
        {"what": words, "backup": there.counts[key], "here": here.counts[key]}
        for key, words in _WORDS.items()
    ]
    return {
        "rows": rows,
        "backup_change": _change(there),
        "here_change": _change(here),
        "seen": str(here.latest_change),
    }


def _change(contents: Contents) -> str:
    if contents.changed_at is None:
        return "none"
    return f"number {contents.latest_change}, {moment(contents.changed_at)}"


def running_jobs(engine: Engine) -> list[dict[str, Any]]:
    """Long work that would go on writing."""
    with reading(engine) as session:
        return [
            {"number": job.number, "doing": job.doing} for job in latest_jobs(session, limit=50) if job.live
        ]


def file_in_words(error: DatabaseError, file: Path, name: str) -> Finding:
    """What is wrong with a file, by its name and not by where it lies here."""
    text = error.finding.text.replace(str(file), name or "the file")
    remedy = error.finding.remedy
    if "plaitlog" in remedy:
        remedy = "choose another backup; nothing was changed"
    return Finding(error.finding.code, text, remedy)
