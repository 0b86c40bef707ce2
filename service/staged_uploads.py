"""What was sent and waits for a decision: a file on the server's disk, named by a token nobody can guess.

A file sent once is there for every step that follows, with or without scripts, and for a process of its own
that works on it. It lies in the user's data folder and not in the database: it may have 50 MB, would swell
every backup, and is gone a day later at the latest. Names that were sent are shown, never used as a path.
"""

import datetime as dt
import json
import re
import secrets
import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path
from typing import Any, BinaryIO, Final

from plaitlog.models.errors import Finding, NotFoundError
from plaitlog.service.settings import data_folder

KEPT_S: Final = 24 * 3600
KEPT_AT_MOST: Final = 20
KEPT_BYTES: Final = 400_000_000
"""Files that wait at one time, and what all of them may hold: a further one lets the oldest go."""
NAME_AT_MOST: Final = 120
_TOKEN: Final = re.compile(r"[A-Za-z0-9_-]{32}")
_CONTENT: Final = "content"
_ABOUT: Final = "about.json"


@dataclass(frozen=True, slots=True)
class Staged:
    """One file that was sent. ``name`` is what its owner called it, fit to be shown."""

    token: str
    name: str
    size_bytes: int
    sent_at: dt.datetime
    folder: Path

    @property
    def content(self) -> Path:
        return self.folder / _CONTENT

    def read(self, part: str) -> Any:
        """What was noted beside the file under a name of this program; None where nothing was."""
        try:
            return json.loads((self.folder / f"{part}.json").read_text("utf-8"))
        except (OSError, ValueError):
            return None

    def note(self, part: str, data: Any) -> None:
        """Note plain data beside the file; it is whole at every moment."""
        unfinished = self.folder / f".{part}-{secrets.token_hex(4)}"
        unfinished.write_text(json.dumps(data, ensure_ascii=False, allow_nan=False), "utf-8", "surrogatepass")
        unfinished.replace(self.folder / f"{part}.json")

    def discard(self) -> None:
        """Let the file go, with all that was noted beside it."""
        shutil.rmtree(self.folder, ignore_errors=True)


def stage(stream: BinaryIO, name: str, purpose: str) -> Staged:
    """Keep what was sent. ``purpose``: the kind of step that it is for, a word of this program."""
    place = _place(purpose)
    place.mkdir(parents=True, exist_ok=True, mode=0o700)
    _let_go_of_old_ones(purpose)
    token = secrets.token_urlsafe(24)
    folder = place / token
    folder.mkdir(mode=0o700)
    with (folder / _CONTENT).open("wb") as target:
        shutil.copyfileobj(stream, target, 1 << 20)
    size = (folder / _CONTENT).stat().st_size
    about = {"name": shown_name(name), "size_bytes": size, "sent_at": dt.datetime.now(dt.UTC).isoformat()}
    (folder / _ABOUT).write_text(json.dumps(about, ensure_ascii=False), "utf-8")
    return _read(folder)


def staged(token: str, purpose: str) -> Staged:
    """What was sent under a token.

    Raises
    ------
    NotFoundError
        It was never sent, or is gone.
    """
    folder = _place(purpose) / token
    if _TOKEN.fullmatch(token) is None or not (folder / _ABOUT).is_file():
        raise NotFoundError(
            Finding("not-waiting", "this file is no longer kept here", "choose it again on the page before")
        )
    return _read(folder)


def all_staged(purpose: str) -> list[Staged]:
    """What waits, the latest first."""
    return sorted(_waiting(purpose), key=lambda one: one.sent_at, reverse=True)


def shown_name(name: str) -> str:
    """A file's name without folders and without what cannot be shown; empty where nothing is left."""
    last = re.split(r"[/\\]", name)[-1]
    return "".join(x for x in last if x.isprintable()).strip().strip(".")[:NAME_AT_MOST]


def download_name(name: str) -> str:
    """A name that every system takes for a file: letters, digits, dots and hyphens of ASCII alone."""
    plain = re.sub(r"[^A-Za-z0-9._-]+", "-", name).strip("-.")
    return plain[-NAME_AT_MOST:] or "file"


def _place(purpose: str) -> Path:
    return data_folder() / "waiting" / purpose


def _read(folder: Path) -> Staged:
    about = json.loads((folder / _ABOUT).read_text("utf-8"))
    sent_at = dt.datetime.fromisoformat(about["sent_at"])
    return Staged(folder.name, about["name"], about["size_bytes"], sent_at, folder)


def _waiting(purpose: str) -> Iterator[Staged]:
    try:
        folders = list(_place(purpose).iterdir())
    except OSError:
        return
    for folder in folders:
        try:
            one = _read(folder)
        except (OSError, ValueError, KeyError):
            continue
        if _TOKEN.fullmatch(folder.name) and time.time() - one.sent_at.timestamp() < KEPT_S:
            yield one


def _let_go_of_old_ones(purpose: str) -> None:
    """Those that wait longer than a day, and the oldest where there are too many or hold too much."""
    newest = all_staged(purpose)[: KEPT_AT_MOST - 1]
    held = accumulate(one.size_bytes for one in newest)
    kept = {one.token for one, size in zip(newest, held, strict=True) if size <= KEPT_BYTES}
    for folder in _place(purpose).iterdir():
        try:
            young = time.time() - folder.stat().st_mtime < 60  # it may just be written
        except OSError:
            continue
        if folder.name not in kept and not (young and not (folder / _ABOUT).exists()):
            shutil.rmtree(folder, ignore_errors=True)
