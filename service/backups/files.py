"""Where backups lie, what their names say, and which of them go when new ones come.

A backup is one SQLite file. Its name says of which database it is, when it was made, at which revision and
why; a mark in its header says that this program made it. Nothing else in the folder is ever removed.
"""

import datetime as dt
import os
import re
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal, cast, get_args

from sqlalchemy import URL

from plaitlog.service.settings import BACKUPS_KEPT, data_folder

Why = Literal["asked", "before-migration", "before-restore"]

FOLDER: Final = "backups"
SUFFIX: Final = ".db"
UNFINISHED: Final = ".part"
UNPACKED: Final = ".restoring-"
"""How the folders begin in which a file is made ready to be restored."""
MARK: Final = 0x506C_4C67
"""``PRAGMA application_id`` of every backup; any number that other programs hardly use."""
STAMP: Final = "%Y%m%dT%H%M%S.%fZ"
_TAIL: Final = re.compile(rf"-(\d{{8}}T\d{{6}}\.\d{{6}}Z)-revision-(\w+)-({'|'.join(get_args(Why))})\.db")
MAGIC: Final = b"SQLite format 3\0"
_ROLLBACK: Final = b"\x01\x01"  # bytes 18 and 19; they say 2 once somebody has worked in the file (WAL)


@dataclass(frozen=True, slots=True)
class BackupPlace:
    """The folder for the backups of one database, how their names begin, how many are kept at least."""

    folder: Path
    stem: str
    kept: int = BACKUPS_KEPT


@dataclass(frozen=True, slots=True)
class Backup:
    """One backup file, by its name."""

    file: Path
    made_at: dt.datetime
    revision: str
    why: Why

    @property
    def size_bytes(self) -> int:
        return self.file.stat().st_size


def place_of(url: URL, kept: int = BACKUPS_KEPT) -> BackupPlace | None:
    """The place for backups of a database: beside an SQLite file, in the user's data folder for a server.

    None for a database that lives in memory only.
    """
    if url.get_backend_name() == "sqlite":
        if not url.database or url.database == ":memory:":
            return None
        file = Path(url.database).absolute()
        return BackupPlace(file.parent / FOLDER, file.stem if file.suffix == SUFFIX else file.name, kept)
    server = "-".join(str(part) for part in (url.host, url.port, url.database) if part)
    return BackupPlace(data_folder() / FOLDER, re.sub(r"[^\w.-]+", "-", server), kept)


def name_for(stem: str, made_at: dt.datetime, revision: str, why: Why) -> str:
    return f"{stem}-{made_at.astimezone(dt.UTC).strftime(STAMP)}-revision-{revision}-{why}{SUFFIX}"


def backups_in(place: BackupPlace) -> list[Backup]:
    """The backups that this program made of this database, the newest first."""
    found = [backup for path in _files(place.folder) if (backup := _read_name(place.stem, path)) is not None]
    return sorted((one for one in found if is_ours(one.file)), key=lambda one: one.made_at, reverse=True)


def unfinished_in(folder: Path) -> list[Path]:
    """What processes that were killed have left behind, or others are just writing."""
    return [
        path
        for path in _files(folder)
        if (path.name.startswith(".") and path.name.endswith(UNFINISHED)) or path.name.startswith(UNPACKED)
    ]


def _files(folder: Path) -> Iterator[Path]:
    try:
        yield from sorted(folder.iterdir())
    except (FileNotFoundError, NotADirectoryError):
        return


def _read_name(stem: str, path: Path) -> Backup | None:
    if not path.name.startswith(stem):
        return None
    match = _TAIL.fullmatch(path.name[len(stem) :])
    if match is None:
        return None
    try:
        made_at = dt.datetime.strptime(match[1], STAMP).replace(tzinfo=dt.UTC)
    except ValueError:
        return None
    return Backup(path, made_at, match[2], cast("Why", match[3]))


def is_ours(file: Path) -> bool:
    """Whether this program made the file as a backup and nobody has worked in it as a database since."""
    try:
        with file.open("rb") as stream:
            head = stream.read(72)
    except OSError:
        return False
    return head.startswith(MAGIC) and head[18:20] == _ROLLBACK and int.from_bytes(head[68:72], "big") == MARK


def rotate(place: BackupPlace, spare: Path | None = None) -> list[Path]:
    """Remove the backups that are no longer needed, once a new one is there and found sound.

    Kept are the newest ``place.kept``; beyond these the first and the newest of each of the last
    ``place.kept`` days on which there was one, so that no burst of backups pushes out what was there before
    it; the newest of each revision; and ``spare``, which is just being restored.
    """
    found = backups_in(place)
    days = _first_of_each(found, _day)[: place.kept]
    first = _first_of_each(found[::-1], _day)[-place.kept :]
    revisions = _first_of_each(found, lambda one: one.revision)
    needed = {one.file for one in (*found[: place.kept], *days, *first, *revisions)}
    removed = []
    for one in found:
        if one.file not in needed and not (spare is not None and spare.exists() and one.file.samefile(spare)):
            one.file.unlink(missing_ok=True)
            removed.append(one.file)
    return removed


def _day(backup: Backup) -> dt.date:
    return backup.made_at.date()


def _first_of_each(found: list[Backup], group: Callable[[Backup], Hashable]) -> list[Backup]:
    first: dict[Hashable, Backup] = {}
    for one in found:
        first.setdefault(group(one), one)
    return list(first.values())


def flush(path: Path) -> None:
    """Have a file or folder on the disk before going on, as far as the system can."""
    try:
        descriptor = os.open(path, os.O_RDONLY)
    except PermissionError:  # Windows opens no folders
        return
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
