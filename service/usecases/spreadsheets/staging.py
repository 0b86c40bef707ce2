"""Rows of a file set aside on disk while it is decided about them, so that a file of any size fits.

Rows that belong together (a whip with its layers, all readings of one whip) may lie anywhere in a file;
here they are found by what they are about. A temporary SQLite file, gone when the import ends.
"""

import datetime as dt
import json
import sqlite3
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Final

from plaitlog.models.errors import Finding

_AT_ONCE: Final = 500


@dataclass(frozen=True, slots=True)
class StagedRow:
    """One row: its number among all rows of the file, its sheet (from 0), its line there, its cells."""

    key: int
    sheet: int
    line: int
    cells: list[Any]


class Staging:
    """The rows of one file; ``with`` makes and removes the temporary file."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="plaitlog-import-")
        self._waiting: list[tuple[Any, ...]] = []
        self._rows = 0
        self._database = sqlite3.connect(Path(self._folder.name) / "rows.sqlite", isolation_level=None)
        run = self._database.execute
        run("PRAGMA journal_mode = OFF")
        run("PRAGMA synchronous = OFF")
        run("PRAGMA cache_size = -8000")
        run(
            "CREATE TABLE line (key INTEGER PRIMARY KEY, sheet INTEGER, line INTEGER, about TEXT, cells TEXT)"
        )
        run("CREATE TABLE refused (key INTEGER PRIMARY KEY, why TEXT)")
        run("BEGIN")

    def __enter__(self) -> "Staging":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._database.close()
        self._folder.cleanup()

    @property
    def rows(self) -> int:
        return self._rows

    def add(self, sheet: int, line: int, about: str | None, cells: Sequence[Any]) -> int:
        """Set a row aside; ``about`` is whose row it is. Gives its key, which grows with its place."""
        self._rows += 1
        self._waiting.append((self._rows, sheet, line, about, json.dumps(list(cells), default=_day)))
        if len(self._waiting) >= _AT_ONCE:
            self._flush()
        return self._rows

    def _flush(self) -> None:
        self._database.executemany("INSERT INTO line VALUES (?, ?, ?, ?, ?)", self._waiting)
        self._waiting.clear()

    def refuse(self, key: int, findings: Iterable[Finding]) -> None:
        """Mark a row as rejected; what was said of it first stays."""
        why = json.dumps([[x.code, x.text, x.remedy, x.where] for x in findings])
        self._database.execute("INSERT OR IGNORE INTO refused VALUES (?, ?)", (key, why))

    def refuse_beyond(self, sheets: Sequence[int], limit: int, finding: Finding, *, each: bool) -> None:
        """Mark as rejected what goes beyond ``limit`` rows of these sheets, about one name each or in all."""
        self._flush()
        why = json.dumps([[finding.code, finding.text, finding.remedy, finding.where]])
        part = "PARTITION BY about" if each else ""
        self._database.execute(
            "INSERT OR IGNORE INTO refused SELECT key, ? FROM (SELECT key,"
            f" row_number() OVER ({part} ORDER BY key) AS number FROM line"
            f" WHERE about IS NOT NULL AND sheet IN ({_marks(sheets)})) WHERE number > ?",
            [why, *sheets, limit],
        )

    def groups(self, sheets: Sequence[int], most: int) -> Iterator[list[str]]:
        """What the rows of these sheets are about, in order of first mention, ``most`` rows a list."""
        self._flush()
        run = self._database.execute
        run("CREATE INDEX IF NOT EXISTS by_about ON line (about, sheet)")
        run("DROP TABLE IF EXISTS groups")
        run("CREATE TABLE groups (place INTEGER PRIMARY KEY, about TEXT, number INTEGER)")
        run(
            "INSERT INTO groups (about, number) SELECT about, count(*) FROM line"
            f" WHERE sheet IN ({_marks(sheets)}) AND about IS NOT NULL GROUP BY about ORDER BY min(key)",
            list(sheets),
        )
        part: list[str] = []
        last = size = 0
        while found := run(
            "SELECT place, about, number FROM groups WHERE place > ? ORDER BY place LIMIT ?", (last, most)
        ).fetchall():
            last = found[-1][0]
            for _, about, number in found:
                if part and size + number > most:
                    yield part
                    part, size = [], 0
                part.append(about)
                size += number
        if part:
            yield part

    def rows_about(self, sheets: Sequence[int], names: Sequence[str]) -> Iterator[StagedRow]:
        """Rows of these sheets about one of ``names`` that are not rejected yet, in the order of the file."""
        found = self._database.execute(
            f"SELECT key, sheet, line, cells FROM line WHERE about IN ({_marks(names)})"
            f" AND sheet IN ({_marks(sheets)}) AND key NOT IN (SELECT key FROM refused)"
            " ORDER BY key",
            [*names, *sheets],
        )
        yield from map(_row, found)

    def refused_about(self, sheets: Sequence[int], names: Sequence[str]) -> dict[str, int]:
        """Of ``names`` those of which a row on these sheets is rejected, with the first such row's key."""
        return dict(
            self._database.execute(
                "SELECT about, min(line.key) FROM line JOIN refused ON refused.key = line.key"
                f" WHERE about IN ({_marks(names)}) AND sheet IN ({_marks(sheets)}) GROUP BY about",
                [*names, *sheets],
            ).fetchall()
        )

    def about(self, key: int) -> str:
        """Whose row it is."""
        return str(self._database.execute("SELECT about FROM line WHERE key = ?", (key,)).fetchone()[0])

    def place(self, key: int) -> tuple[int, int]:
        """Sheet and line of a row."""
        self._flush()
        return self._database.execute("SELECT sheet, line FROM line WHERE key = ?", (key,)).fetchone()  # type: ignore[no-any-return]

    def refused(self, sheet: int) -> Iterator[tuple[StagedRow, list[Finding]]]:
        """The rejected rows of a sheet in order, each with its reasons."""
        self._flush()
        found = self._database.execute(
            "SELECT line.key, sheet, line, cells, why FROM refused JOIN line ON line.key = refused.key"
            " WHERE sheet = ? ORDER BY line.key",
            (sheet,),
        )
        for *row, why in found:
            yield _row(row), [Finding(*each) for each in json.loads(why)]

    def refused_rows(self) -> int:
        return int(self._database.execute("SELECT count(*) FROM refused").fetchone()[0])

    def undecided(self, decided: int) -> int:
        """Rows that are neither rejected nor among those counted as taken."""
        return self._rows - self.refused_rows() - decided


def _marks(values: Sequence[object]) -> str:
    return ", ".join("?" * len(values))


def _row(found: Sequence[Any]) -> StagedRow:
    key, sheet, line, cells = found
    return StagedRow(key, sheet, line, [_cell(cell) for cell in json.loads(cells)])


def _day(cell: object) -> Any:
    if isinstance(cell, dt.datetime):
        return {"time": cell.isoformat()}
    if isinstance(cell, dt.date):
        return {"day": cell.isoformat()}
    return str(cell)  # a time of day or a duration, which no column takes


def _cell(cell: Any) -> Any:
    if isinstance(cell, dict):
        if "time" in cell:
            return dt.datetime.fromisoformat(cell["time"])
        return dt.date.fromisoformat(cell["day"])
    return cell
