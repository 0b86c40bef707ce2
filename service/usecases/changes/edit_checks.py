"""What every edit checks beside the record itself, and what it gives back."""

from collections.abc import Callable, Iterable, Iterator
from typing import Any, TypeVar

from plaitlog.models.errors import Finding, RecordError, nearest_or
from plaitlog.service.usecases.changes.edited_records import Edited
from plaitlog.service.usecases.changes.journal import Journal

Noun = TypeVar("Noun")


def refuse(findings: Iterable[Finding]) -> None:
    """RecordError where there is anything to mend."""
    found = list(findings)
    if found:
        raise RecordError(*found)


def refuse_taken(kind: str, key: str, old: str, new: str, known: Iterable[str]) -> None:
    """RecordError where a new name or label is that of another one."""
    if new != old and new in known:
        text = f"{new!r} is the {key} of another {kind}"
        refuse([Finding("name-taken", text, f"choose another {key}, or edit that {kind}", key)])


def unknown_cords(named: Iterable[tuple[str, str]], known: Iterable[str]) -> Iterator[Finding]:
    """A finding for each cord that is not in the workshop; ``named`` gives the key and the cord."""
    listed = list(known)
    for where, cord in named:
        if cord not in listed:
            remedy = nearest_or(cord, listed, "add the cord first, or correct the name")
            yield Finding("unknown-cord", f"no cord {cord!r} is in the workshop", remedy, where)


def new_findings(
    findings: Callable[[Noun], Iterable[Finding]], before: Noun, after: Noun
) -> tuple[Finding, ...]:
    """What is worth a look now and was not before."""
    known = set(findings(before))
    return tuple(finding for finding in findings(after) if finding not in known)


def finished(
    journal: Journal,
    stored: int,
    before: dict[str, Any],
    after: dict[str, Any],
    findings: tuple[Finding, ...] = (),
) -> Edited:
    """The result of an edit; its entries are written to the history."""
    journal.flush()
    if journal.is_empty:
        return Edited(None, stored, before, before)
    return Edited(journal.number, journal.number, after, before, findings)
