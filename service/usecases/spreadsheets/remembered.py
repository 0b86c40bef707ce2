"""What the maker said about a set of headers, kept for the next file that has the same."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Final

from plaitlog.service.usecases.spreadsheets.headers import bare
from plaitlog.service.usecases.spreadsheets.mapped import WHY, Choices

FILE: Final = "tables.json"
"""Its name in the user's data folder."""


@dataclass(slots=True)
class HeaderMemory:
    """A small JSON file; a missing or damaged one holds nothing. Without ``file`` nothing is kept."""

    file: Path | None = None
    _found: dict[str, Any] | None = field(default=None, repr=False)

    def recall(self, headers: Sequence[str]) -> Choices | None:
        """What was said when these headers stood above a table before."""
        kept = self._all().get(_name(headers))
        if not isinstance(kept, dict):
            return None
        try:
            return Choices(
                headers=dict(kept.get("headers", {})),
                units=dict(kept.get("units", {})),
                table=kept.get("table"),
                decimal=kept.get("decimal"),
            )
        except (TypeError, ValueError):
            return None

    def keep(self, headers: Sequence[str], choices: Choices) -> None:
        """Remember what was said; what says nothing is not kept."""
        if self.file is None or choices == Choices():
            return
        found = {**self._all(), _name(headers): asdict(choices)}
        self._found = found
        self.file.parent.mkdir(parents=True, exist_ok=True)
        self.file.write_text(json.dumps(found, ensure_ascii=False, indent=1), "utf-8")

    def _all(self) -> dict[str, Any]:
        if self._found is None:
            try:
                found = json.loads(self.file.read_text("utf-8")) if self.file else {}
            except (OSError, ValueError):
                found = {}
            self._found = found if isinstance(found, dict) else {}
        return self._found


def _name(headers: Sequence[str]) -> str:
    """The same for the same headers in any order, with or without the column that says why."""
    return "|".join(sorted({bare(header) for header in headers if header} - {bare(WHY)}))


def both(said: Choices, kept: Choices | None) -> Choices:
    """What is said now, before what was said then."""
    if kept is None:
        return said
    return Choices(
        headers={**kept.headers, **said.headers},
        units={**kept.units, **said.units},
        table=said.table or kept.table,
        decimal=said.decimal or kept.decimal,
    )
