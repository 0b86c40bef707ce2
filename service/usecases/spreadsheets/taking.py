"""Rows that were set aside, taken into the workshop in parts, in the order in which they need each other."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from pydantic import ValidationError
from sqlalchemy.orm import Session

from plaitlog.models import units
from plaitlog.models.errors import Finding, InputError, nearest_or
from plaitlog.models.whip import NONE
from plaitlog.service.schemas.records import KINDS
from plaitlog.service.schemas.refusals import findings_of, record_from
from plaitlog.service.usecases.changes.journal import Journal
from plaitlog.service.usecases.import_deciding import plan_sound
from plaitlog.service.usecases.import_plan import Row
from plaitlog.service.usecases.import_report import Outcome, Progress, RowOutcome
from plaitlog.service.usecases.import_writing import write_plan
from plaitlog.service.usecases.json_lines import unstorable
from plaitlog.service.usecases.loading import whip_keys
from plaitlog.service.usecases.spreadsheets.layer_lines import settled
from plaitlog.service.usecases.spreadsheets.mapped import Layout
from plaitlog.service.usecases.spreadsheets.rows import FromRows, record_of, with_parts
from plaitlog.service.usecases.spreadsheets.sheets import FoundTables
from plaitlog.service.usecases.spreadsheets.staging import StagedRow, Staging

ROWS_AT_ONCE: Final = 1000
ROWS_ABOUT_ONE: Final = 5000
"""Rows about one whip that one file can hold: they are decided on together, in memory."""
NAMED_AT_MOST: Final = 20_000
"""Makers, cords, or lots of stock that one file can hold: all of them are looked up by name."""
DETAILS_AT_MOST: Final = 1000
"""Rows of each sort (with something to say, and without) that a report tells of one by one."""
_NEAREST_AT_MOST: Final = 200


@dataclass(slots=True)
class Taken:
    """What became of the rows so far; ``details`` are the first of them."""

    tally: Counter[Outcome] = field(default_factory=Counter)
    details: list[tuple[int, RowOutcome]] = field(default_factory=list)
    readings_added: int = 0
    _plain: int = 0
    _telling: int = 0

    def note(self, key: int, outcome: RowOutcome) -> None:
        if not outcome.implied:
            self.tally[outcome.outcome] += 1
        if outcome.findings:
            self._telling += 1
            keep = self._telling <= DETAILS_AT_MOST
        else:
            self._plain += 1
            keep = self._plain <= DETAILS_AT_MOST
        if keep:
            self.details.append((key, outcome))


class Taking:
    """One import of tables under way."""

    def __init__(
        self,
        session: Session,
        staging: Staging,
        tables: FoundTables,
        journal: Journal,
        progress: Progress,
    ) -> None:
        self.session = session
        self.staging = staging
        self.tables = tables
        self.journal = journal
        self.progress = progress
        self.taken = Taken()
        self._looked_up = 0
        self._done = 0

    def run(self) -> Taken:
        for kind in KINDS:
            sheets = self._sheets(kind)
            if not sheets:
                continue
            self._limit(kind, sheets)
            for names in self.staging.groups(sheets, ROWS_AT_ONCE):
                self._take(kind, sheets, names)
        for number in range(len(self.tables.sheets)):
            for row, findings in self.staging.refused(number):
                kind = self.tables.sheets[number].layout.table.name
                self.taken.note(row.key, self._outcome(row.key, kind, "", "rejected", "", findings))
        assert self.staging.undecided(self.staging.rows - self.taken.tally["rejected"]) == 0
        assert self.taken.tally.total() == self.staging.rows, "every row is either taken or rejected"
        return self.taken

    def _sheets(self, kind: str) -> list[int]:
        return [i for i, sheet in enumerate(self.tables.sheets) if sheet.layout.table.kind == kind]

    def _layout(self, sheet: int) -> Layout:
        return self.tables.sheets[sheet].layout

    def _limit(self, kind: str, sheets: list[int]) -> None:
        if kind in ("maker", "cord", "stock"):
            limit, each = NAMED_AT_MOST, False
        else:
            limit, each = ROWS_ABOUT_ONE, True
        finding = Finding(
            "too-many-rows",
            f"the file has more than {limit} rows {'about this whip' if each else f'of kind {kind}'}",
            "import the rest from a file of its own",
        )
        self.staging.refuse_beyond(sheets, limit, finding, each=each)

    def _take(self, kind: str, sheets: list[int], names: list[str]) -> None:
        if kind == "whip":
            found = self._whips(sheets, names)
        else:
            if kind in ("reading", "rating"):
                names = self._with_their_whips(sheets, names)
            rows = self.staging.rows_about(sheets, names)
            found = [record_of(row, self._layout(row.sheet), self.tables.form) for row in rows]
        self._decide(found)
        self._done += sum(len(each.members) for each in found)
        self.progress("taking rows", self._done, self.staging.rows)

    def _whips(self, sheets: list[int], names: list[str]) -> list[FromRows]:
        """Records of whips, each with its rows of layers and the like; one bad row rejects them all."""
        own: dict[str, list[StagedRow]] = {}
        parts: dict[str, list[tuple[StagedRow, Layout]]] = {}
        bad = self.staging.refused_about(sheets, names)
        for row in self.staging.rows_about(sheets, names):
            layout = self._layout(row.sheet)
            name = self._subject(row)
            if layout.table.part:
                parts.setdefault(name, []).append((row, layout))
            else:
                own.setdefault(name, []).append(row)
        alone = [name for name in parts if name not in own]
        stored = whip_keys(self.session, alone) if alone else {}
        found: list[FromRows] = []
        for name in dict.fromkeys([*own, *parts]):
            rows, beside = own.get(name, []), parts.get(name, [])
            if name in bad:
                self._refuse_with(bad[name], [*rows, *(row for row, _ in beside)])
                continue
            if not rows and name not in stored:
                self._refuse_all([row for row, _ in beside], self._unknown_whip(name, beside[0]))
                continue
            if rows:
                one, *again = (record_of(x, self._layout(x.sheet), self.tables.form) for x in rows)
            else:
                row = beside[0][0]
                one, again = FromRows(row.key, {"kind": "whip", "label": name}, []), []
            with_parts(one, beside, self.tables.form)
            if one.findings:
                self._refuse_family(one)
            else:
                one.record = settled(one.record, _point_mm(one.record))
                found.append(one)
            found += again
        return found

    def _subject(self, row: StagedRow) -> str:
        """Whose row it is, as it was set aside."""
        return self.staging.about(row.key)

    def _with_their_whips(self, sheets: list[int], names: list[str]) -> list[str]:
        """Of the names those whose rows can be taken; rows of rejected or unknown whips are rejected."""
        whips = self._sheets("whip")
        bad = self.staging.refused_about(whips, names) if whips else {}
        stored = whip_keys(self.session, names)
        for name in names:
            if name in bad:
                self._refuse_with(bad[name], self.staging.rows_about(sheets, [name]))
            elif name not in stored:
                rows = list(self.staging.rows_about(sheets, [name]))
                if rows:
                    self._refuse_all(rows, self._unknown_whip(name, (rows[0], self._layout(rows[0].sheet))))
        return [name for name in names if name in stored and name not in bad]

    def _unknown_whip(self, name: str, example: tuple[StagedRow, Layout]) -> Finding:
        remedy = "add the whip, or correct the label"
        self._looked_up += 1
        if self._looked_up <= _NEAREST_AT_MOST:
            remedy = nearest_or(name, whip_keys(self.session), remedy)
        layout = example[1]
        header = next(each.header for each in layout.columns if each.column.key == layout.table.subject)
        text = f"no whip {name!r} is in the workshop or in this file"
        return Finding("unknown-whip", text, remedy, f"column {header!r}")

    def _refuse_with(self, bad: int, rows: Iterable[StagedRow]) -> None:
        finding = Finding(
            "rejected-with-whip",
            f"{self.place(bad)}, of the same whip, is rejected",
            "mend that one; this row goes with it",
        )
        self._refuse_all(list(rows), finding)

    def _refuse_all(self, rows: Sequence[StagedRow], finding: Finding) -> None:
        for row in rows:
            self.staging.refuse(row.key, [finding])

    def _refuse_family(self, one: FromRows) -> None:
        """Reject every row of a record: those with findings for these, the others because of them."""
        for key, findings in one.findings.items():
            self.staging.refuse(key, findings)
        first = min(one.findings)
        finding = Finding(
            "rejected-with-whip",
            f"{self.place(first)}, of the same whip, is rejected",
            "mend that one; this row goes with it",
        )
        for key in one.members:
            self.staging.refuse(key, [finding])

    def _refuse_told(self, one: FromRows, findings: Iterable[Finding]) -> None:
        for finding in findings:
            one.refuse(*one.tell(finding))
        self._refuse_family(one)

    def _decide(self, found: list[FromRows]) -> None:
        rows: list[Row] = []
        by_row: dict[int, FromRows] = {}
        for one in found:
            if one.findings:
                self._refuse_family(one)
                continue
            if (wrong := unstorable(one.record)) is not None:
                self._refuse_told(one, [wrong])
                continue
            try:
                rows.append(Row(one.row, record_from(one.record)))
            except ValidationError as error:
                self._refuse_told(one, findings_of(error))
                continue
            by_row[one.row] = one
        plan, refused = plan_sound(self.session, rows, place=self.place)
        for outcome in refused:
            self._refuse_told(by_row[outcome.line], outcome.findings)
        write_plan(self.session, plan, self.journal, lambda doing, done, total: None)
        self.taken.readings_added += sum(len(merged.added) for merged in plan.whips.values())
        for outcome in plan.outcomes:
            self._note(outcome, by_row)

    def _note(self, outcome: RowOutcome, by_row: dict[int, FromRows]) -> None:
        one = by_row[outcome.line]
        if outcome.implied:
            kept = self._outcome(
                outcome.line, outcome.kind, outcome.name, outcome.outcome, outcome.detail, ()
            )
            self.taken.note(
                outcome.line,
                RowOutcome(kept.line, kept.kind, kept.name, kept.outcome, kept.detail, (), True, kept.sheet),
            )
            return
        findings: dict[int, list[Finding]] = {}
        for finding in outcome.findings:
            key, told = one.tell(finding)
            findings.setdefault(key, []).append(told)
        for key in one.members:
            detail = outcome.detail if key == one.row else ""
            self.taken.note(
                key,
                self._outcome(
                    key, outcome.kind, outcome.name, outcome.outcome, detail, findings.get(key, ())
                ),
            )

    def _outcome(
        self, key: int, kind: str, name: str, outcome: Outcome, detail: str, findings: Iterable[Finding]
    ) -> RowOutcome:
        sheet, line = self.staging.place(key)
        return RowOutcome(
            line, kind, name, outcome, detail, tuple(findings), sheet=self.tables.sheets[sheet].name
        )

    def place(self, key: int) -> str:
        """A row in words."""
        sheet, line = self.staging.place(key)
        name = self.tables.sheets[sheet].name
        return f"row {line} of sheet {name!r}" if name else f"line {line}"


def _point_mm(record: dict[str, Any]) -> float | None:
    """Station of the point that a whip's record gives, for lines that count from it."""
    try:
        thong = _length(record, "thong_length")
        handle = _length(record, "handle_length") if record.get("datum") == "butt" else 0.0
    except InputError:
        return None
    return None if thong is None or handle is None else thong + handle


def _length(record: dict[str, Any], key: str) -> float | None:
    number, text = record.get(f"{key}_mm"), record.get(key)
    if number == NONE or text == NONE:
        return 0.0
    if isinstance(number, int | float):
        return float(number)
    return None if text is None else units.parse_length(str(text))
