"""What an import did, or would do, row by row."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from plaitlog.models.errors import Finding

Outcome = Literal["add", "update", "there already", "rejected"]
OUTCOMES: Final[tuple[Outcome, ...]] = ("add", "update", "there already", "rejected")

Progress = Callable[[str, int, int | None], None]
"""Told what is going on ("reading", "writing"), how much of it is done, and of how much if that is known."""


@dataclass(frozen=True, slots=True)
class RowOutcome:
    """What became of one row.

    ``name`` is the label or name it is about; ``detail`` says what is new or changed; ``findings`` are why
    it is rejected, or what is worth a look though it is taken. ``implied``: not a row of the file, but a
    maker whom a whip names. ``sheet``: of an xlsx file, the sheet on which ``line`` is a row.
    """

    line: int
    kind: str
    name: str
    outcome: Outcome
    detail: str = ""
    findings: tuple[Finding, ...] = ()
    implied: bool = False
    sheet: str = ""

    @property
    def place(self) -> str:
        return f"row {self.line} of sheet {self.sheet!r}" if self.sheet else f"line {self.line}"


@dataclass(frozen=True, slots=True)
class RejectedRow:
    """A rejected row as it stands, to be put right: its cells as text, under what headers, and why.

    A line of JSON is one cell without a header.
    """

    sheet: str
    line: int
    headers: tuple[str, ...]
    cells: tuple[str, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class ImportReport:
    """Every row of a file in its order; ``written`` is False for a dry run.

    Of a long table ``rows`` are the first of each sort only, and ``tally`` counts all. ``said`` tells how a
    table was read: its columns, units and decimal mark, and what was passed over; ``findings`` are on the
    file as a whole; ``rejected_rows`` are as many as were asked for.
    """

    rows: Sequence[RowOutcome]
    readings_added: int
    written: bool
    tally: Mapping[Outcome, int] | None = None
    said: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    rejected_rows: tuple[RejectedRow, ...] = ()

    def counts(self) -> dict[Outcome, int]:
        """Rows of the file by outcome; they add up to the rows that are not blank."""
        found = (
            Counter(row.outcome for row in self.rows if not row.implied) if self.tally is None else self.tally
        )
        return {outcome: found.get(outcome, 0) for outcome in OUTCOMES}

    @property
    def refusals(self) -> list[Finding]:
        """Why rows are rejected, each with its line."""
        return [
            finding.at(row.place)
            for row in self.rows
            if row.outcome == "rejected"
            for finding in row.findings
        ]
