"""What goes where: results to stdout, everything else to stderr; plain text when not a terminal."""

import json
import sys
from collections.abc import Iterable, Sequence
from typing import Any

import typer

from plaitlog.models.errors import Finding
from plaitlog.service.errors import WITH_FINDINGS


def say(text: str = "") -> None:
    """Tell the person at the keyboard something that is not the result."""
    typer.echo(text, err=True)


def result(text: str = "") -> None:
    """A line of the result."""
    typer.echo(text)


def as_json(value: Any) -> None:
    """The result for a program."""
    typer.echo(json.dumps(value, ensure_ascii=False, allow_nan=False, indent=2))


def finding_json(finding: Finding) -> dict[str, str]:
    found = {"code": finding.code, "text": finding.text, "remedy": finding.remedy}
    return {**found, "where": finding.where} if finding.where else found


def findings(found: Iterable[Finding]) -> None:
    """Findings as lines of the result."""
    for finding in found:
        result(f"note: {finding}")


def to_mend(found: Iterable[Finding]) -> list[Finding]:
    """Those with a remedy; the rest are remarks on what is as it should be."""
    return [finding for finding in found if finding.remedy]


def end(found: Sequence[object], strict: bool) -> None:
    """Leave with 1 where there are findings and the caller asked to be strict."""
    if strict and found:
        raise typer.Exit(WITH_FINDINGS)


def table(heads: Sequence[str], rows: Iterable[Sequence[object]], *, right: Sequence[str] = ()) -> None:
    """A table as a result: ruled on a terminal, aligned plain text otherwise, never cut off.

    ``right`` names the columns that are set flush right (numbers).
    """
    cells = [["" if value is None else str(value) for value in row] for row in rows]
    if sys.stdout.isatty():
        _ruled(heads, cells, right)
        return
    widths = [max(map(len, column)) for column in zip(heads, *cells, strict=True)]
    for line in [list(heads), *cells]:
        fields = [
            text.rjust(width) if head in right else text.ljust(width)
            for head, text, width in zip(heads, line, widths, strict=True)
        ]
        result("  ".join(fields).rstrip())


def _ruled(heads: Sequence[str], cells: list[list[str]], right: Sequence[str]) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    ruled = Table(*[])
    for head in heads:
        ruled.add_column(head, justify="right" if head in right else "left", overflow="fold")
    for line in cells:
        ruled.add_row(*map(Text, line))
    Console().print(ruled)
