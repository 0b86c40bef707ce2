"""A large import as a job: its rows tried out first, or taken in as they were shown."""

import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.service.backups.making import copy_database, plain_write_errors
from plaitlog.service.database import open_engine, reading, writing
from plaitlog.service.settings import Settings
from plaitlog.service.staged_imports import PURPOSE, check, is_lines, take
from plaitlog.service.staged_uploads import staged
from plaitlog.service.usecases.import_report import ImportReport
from plaitlog.service.usecases.listing import latest_change
from plaitlog.service.work.kinds import Finish, Tell

READ_TABLE: Final = 0.1
READ_LINES: Final = 0.5
"""What reading the file is told to take of trying it out; measured on ten thousand whips."""


def work(engine: Engine, asked: Mapping[str, Any], tell: Tell) -> Finish:
    """Try out a file that was sent, or import it.

    asked : ``token`` of the file, ``take``: whether to import it as it was shown.
    """
    kept = staged(asked["token"], PURPOSE)
    limit = Settings().line_limit_bytes
    address = f"/import/{kept.token}"
    if asked["take"]:
        tell("writes the rows; whoever else writes waits meanwhile", 0.1)

        def write_down(session: Session) -> Mapping[str, Any]:
            report, change = take(session, kept, limit)
            what = "" if change is None else f"?change={change}"
            return {"address": f"{address}/done{what}", "counts": report.counts(), "change": change}

        return write_down

    read = READ_LINES if is_lines(kept) else READ_TABLE

    def progress(doing: str, done: int, total: int | None) -> None:
        share = min(1.0, done / total) if total else 0.0
        if doing == "reading" and share < 1:
            tell("reads the file", read * share)
        elif doing == "reading":
            tell("looks up what is there already", read)
        else:
            tell(f"tries row {done} of {total}", read + (1 - read) * share)

    tell("copies the workshop, to try the rows in the copy", 0.0)

    with _aside(engine) as aside:
        with reading(aside) as session:
            at = latest_change(session)

        def run(work: Callable[[Session], ImportReport]) -> ImportReport:
            with writing(aside) as session:
                return work(session)

        check(kept, limit, run, at, progress)
    return lambda session: {"address": address}


@contextmanager
def _aside(engine: Engine) -> Iterator[Engine]:
    """A copy of the workshop: trying out is writing, and others go on writing meanwhile."""
    with tempfile.TemporaryDirectory(prefix="plaitlog-import-") as folder:
        copy = Path(folder) / "workshop.db"
        with plain_write_errors(copy):
            copy_database(engine, copy)
        aside = open_engine(str(copy))
        try:
            yield aside
        finally:
            aside.dispose()
