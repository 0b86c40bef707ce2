"""Imports that wait for a decision: looked at, tried out, taken in; by a page, or by a job where it is long.

Beside the file lie three notes: what was said about it, what it seems to hold, and what each row would do.
"""

import hashlib
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from typing import Any, BinaryIO, Final, cast

from sqlalchemy.orm import Session

from plaitlog.models.errors import ImportRefusedError, InputError
from plaitlog.service.settings import data_folder
from plaitlog.service.staged_uploads import Staged
from plaitlog.service.usecases.asked_imports import (
    Asked,
    SourceFile,
    asked_from,
    report_data,
    take_in,
    try_out,
)
from plaitlog.service.usecases.import_report import ImportReport, Progress
from plaitlog.service.usecases.json_lines import holds_lines
from plaitlog.service.usecases.listing import latest_change
from plaitlog.service.usecases.spreadsheets.remembered import FILE as REMEMBERED
from plaitlog.service.usecases.spreadsheets.remembered import HeaderMemory

PURPOSE: Final = "imports"
PASTED: Final = "pasted cells"
LONG_BYTES: Final = 300_000
"""A text of this size is imported in some two seconds; what is longer is left to a job."""
LONG_WORKBOOK_BYTES: Final = 100_000
"""The same for a workbook, which is packed."""
REJECTED: Final = "rejected"
_START_BYTES: Final = 4096
_QUIET: Final[Progress] = lambda doing, done, total: None  # noqa: E731


def is_long(staged: Staged) -> bool:
    """Whether so much takes longer than a page may."""
    with staged.content.open("rb") as stream:
        packed = stream.read(2) == b"PK"
    return staged.size_bytes > (LONG_WORKBOOK_BYTES if packed else LONG_BYTES)


def is_lines(staged: Staged) -> bool:
    """Whether the file holds records as lines of JSON, and not a table."""
    with staged.content.open("rb") as stream:
        return holds_lines(stream.read(_START_BYTES), staged.name)


def memory() -> HeaderMemory:
    """What was said about headers before; the command line remembers in the same place."""
    return HeaderMemory(data_folder() / REMEMBERED)


def asked_of(staged: Staged) -> Asked:
    """What was said about the file so far."""
    kept = staged.read("asked")
    return Asked() if kept is None else asked_from(kept)


def seen_of(staged: Staged) -> dict[str, Any] | None:
    """What the file seems to hold, as it was looked at last."""
    found: dict[str, Any] | None = staged.read("seen")
    return found


def report_of(staged: Staged) -> dict[str, Any] | None:
    """What each row would do; None where it was not tried out with what is said now."""
    found: dict[str, Any] | None = staged.read("report")
    return found if found is not None and found["of"] == _mark(asked_of(staged)) else None


def say(staged: Staged, asked: Asked) -> None:
    """Note what is said about the file, and what it seems to hold then.

    Raises
    ------
    TableError
        It cannot be read at all.
    """
    seen = None if is_lines(staged) else _seen(staged, asked)
    staged.note("asked", asked.plain())
    staged.note("seen", seen)


def _seen(staged: Staged, asked: Asked) -> dict[str, Any]:
    from plaitlog.service.usecases.spreadsheets.looking import look_at

    with staged.content.open("rb") as stream:
        seen = look_at(
            cast("BinaryIO", stream),
            staged.name or PASTED,
            memory(),
            by_sheet=asked.by_sheet,
            encoding=asked.encoding,
        )
    data = asdict(seen)
    for sheet, found in zip(data["sheets"], seen.sheets, strict=True):
        sheet["table"] = None if found.table is None else found.table.name
    return data


def check(
    staged: Staged,
    line_limit_bytes: int,
    run: Callable[[Callable[[Session], ImportReport]], ImportReport],
    at: int | None,
    progress: Progress = _QUIET,
) -> None:
    """Try the file out as it is asked, and note what each row would do.

    run : runs a function in a session that may write, and keeps nothing of it.
    at : number of the change after which it is tried.
    """
    asked = asked_of(staged)
    found: dict[str, Any] = {"of": _mark(asked), "at": at, "refusals": [], "report": None}
    rejected = staged.folder / REJECTED
    try:
        with _opened(staged) as source, rejected.open("w+b") as rejects:

            def work(session: Session) -> ImportReport:
                rejects.seek(0)
                rejects.truncate()
                return try_out(
                    session,
                    source,
                    asked,
                    memory=memory(),
                    rejects=cast("BinaryIO", rejects),
                    line_limit_bytes=line_limit_bytes,
                    progress=progress,
                )

            found["report"] = report_data(run(work))
    except ImportRefusedError as error:
        found["refusals"] = [asdict(finding) for finding in error.findings]
    except InputError as error:
        found["refusals"] = [asdict(error.finding)]
    staged.note("report", found)


def take(
    session: Session, staged: Staged, line_limit_bytes: int, progress: Progress = _QUIET
) -> tuple[ImportReport, int | None]:
    """Import what is sound of it, as it was shown; gives the report and the number of the change.

    Raises
    ------
    UndoError
        It was not tried out, or the workshop is no longer as it was then; nothing is written.
    """
    found = report_of(staged)
    counts = {"rejected": -1} if found is None or found["report"] is None else found["report"]["counts"]
    with _opened(staged) as source:
        return take_in(
            session,
            source,
            asked_of(staged),
            seen_change=None if found is None else found["at"],
            seen_rejected=counts["rejected"],
            memory=memory(),
            line_limit_bytes=line_limit_bytes,
            progress=progress,
        )


def settle(staged: Staged, change: int | None) -> int:
    """Note that what was sound is taken in, by this change; gives how many rows are left to be mended."""
    found = staged.read("report")
    if found is None or found["report"] is None:
        return 0
    counts = found["report"]["counts"]
    left = int(counts["rejected"])
    if found["at"] != change and change is not None:
        there = sum(counts.values()) - left
        found["at"] = change
        found["report"]["counts"] = {"add": 0, "update": 0, "there_already": there, "rejected": left}
        found["report"] |= {"rows": [], "readings_added": 0}
        staged.note("report", found)
    return left


def is_fresh(session: Session, found: dict[str, Any]) -> bool:
    """Whether the workshop is still as it was when the rows were tried out."""
    return bool(latest_change(session) == found["at"])


@contextmanager
def _opened(staged: Staged) -> Iterator[SourceFile]:
    seen = seen_of(staged)
    sheets = () if seen is None else tuple(sheet["name"] for sheet in seen["sheets"])
    with staged.content.open("rb") as stream:
        name, size = staged.name or PASTED, staged.size_bytes
        yield SourceFile(cast("BinaryIO", stream), name, size, is_lines(staged), sheets)


def _mark(asked: Asked) -> str:
    text = json.dumps(asked.plain(), sort_keys=True, default=str)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
