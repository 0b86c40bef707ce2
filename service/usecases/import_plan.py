"""What an import would change, gathered row by row. Nothing is written here."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any, Final, Generic, TypeVar

from plaitlog.models.errors import Finding
from plaitlog.models.whip import Cord, CordStock
from plaitlog.service.schemas.records import Record
from plaitlog.service.usecases.import_report import Outcome, RowOutcome
from plaitlog.service.usecases.merging import Merged

NAME_KEYS: Final = {
    "maker": "name", "cord": "name", "stock": "cord", "whip": "label", "rating": "whip", "reading": "whip",
}  # fmt: skip

Noun = TypeVar("Noun")
StockName = tuple[str, str | None, str | None]
"""Cord, colour and lot, which together tell stock apart."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row that holds a record."""

    line: int
    record: Record


@dataclass(frozen=True, slots=True)
class Change(Generic[Noun]):
    """One noun with its key and as it was (None: it is new), and as it will be."""

    key: int | None
    before: Noun | None
    after: Noun


@dataclass(slots=True)
class Plan:
    """What the rows change; ``outcomes`` says it row by row, ``place`` names a row in messages."""

    makers: dict[str, int]
    stored_cords: dict[str, tuple[int, Cord]]
    stored_stock: dict[StockName, tuple[int, CordStock]]
    whip_keys: dict[str, int]
    all_labels: tuple[str, ...] = ()
    new_makers: list[str] = field(default_factory=list)
    cords: dict[str, Change[Cord]] = field(default_factory=dict)
    stock: dict[StockName, Change[CordStock]] = field(default_factory=dict)
    whips: dict[str, Merged] = field(default_factory=dict)
    outcomes: list[RowOutcome] = field(default_factory=list)
    seen: dict[tuple[Any, ...], int] = field(default_factory=dict)
    place: Callable[[int], str] = "line {}".format

    def decide(
        self,
        row: Row,
        name: str,
        outcome: Outcome,
        detail: str = "",
        findings: Iterable[Finding] = (),
        *,
        implied: str = "",
    ) -> None:
        kind = implied or row.record.kind
        self.outcomes.append(
            RowOutcome(row.line, kind, name, outcome, detail, tuple(findings), bool(implied))
        )

    def is_repeated(self, row: Row, name: str, *identity: Any) -> bool:
        """Whether an earlier row said this already; then this one is rejected."""
        earlier = self.seen.setdefault((row.record.kind, *identity), row.line)
        if earlier == row.line:
            return False
        finding = Finding(
            "stands-twice",
            f"{name!r} stands on {self.place(earlier)} already",
            "keep one of them",
            NAME_KEYS[row.record.kind],
        )
        self.decide(row, name, "rejected", findings=[finding])
        return True
