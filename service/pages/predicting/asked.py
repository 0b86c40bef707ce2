"""What is asked on the page of predictions, from an address or from its form."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final
from urllib.parse import urlencode

from plaitlog.service.pages.forms import Form
from plaitlog.service.usecases.stack_rows import FIELDS, StackLine, StackRow

LETTER: Final = re.compile(r"[A-Z]")
_NAMED: Final = re.compile(r"\s*([A-Za-z])\s*=\s*(.*\S)\s*")
BESIDE: Final = ("maker", "condition", "interval", "for", "over", "of")
MOST_ROWS: Final = 20


@dataclass(frozen=True, slots=True)
class Asked:
    """A stack as rows, or (where ``rows`` is None) as a line with its letters; the rest as text by field.

    only : the cord of counts without a letter. typed_rows, was : the rows beside a line, and the line and its
    cords as they were when the form was shown: they stay where the line cannot be read.
    """

    rows: tuple[StackRow, ...] | None
    line: StackLine
    beside: Mapping[str, str]
    only: str = ""
    typed_rows: tuple[StackRow, ...] = ()
    was: tuple[str, str] = ("", "")


def asked_in_address(query: Mapping[str, str]) -> Asked | None:
    """What an address that was kept asks for; None where it names no stack."""
    stack = query.get("stack", "")
    if not stack.strip():
        return None
    letters = {key: value for key, value in query.items() if LETTER.fullmatch(key)}
    beside = {name: query.get(name, "") for name in BESIDE}
    return Asked(None, StackLine(stack, letters), beside, query.get("cord", ""))


def asked_in_form(form: Form) -> Asked:
    """What a form asks for: its line where that was changed since it was shown, else its rows."""
    line, cords = form.text("line"), form.text("cords")
    beside = {name: form.text(name) for name in BESIDE}
    was = form.text("line_was"), form.text("cords_was")
    stated = StackLine(line, letters_typed(cords))
    given = {name: form.all(name) for name in FIELDS}
    count = min(min(map(len, given.values())), MOST_ROWS)
    rows = [StackRow(**{name: given[name][k].strip() for name in FIELDS}) for k in range(count)]
    if (line, cords) != was or not (rows or form.text("do") == "add"):
        return Asked(None, stated, beside, form.text("only"), tuple(rows), was)
    return Asked(tuple(_moved(rows, form.text("do"))), stated, beside)


def _moved(rows: list[StackRow], do: str) -> list[StackRow]:
    """The rows with one added, removed or moved, as a button says."""
    what, _, number = do.partition("-")
    at = int(number) - 1 if number.isdecimal() and len(number) < 4 else -1
    if what == "add" and len(rows) < MOST_ROWS:
        return [*rows, StackRow(cord=rows[-1].cord if rows else "")]
    if not 0 <= at < len(rows):
        return rows
    if what == "remove":
        return [*rows[:at], *rows[at + 1 :]]
    to = at + {"in": -1, "out": 1}.get(what, 0)
    if 0 <= to < len(rows):
        rows[at], rows[to] = rows[to], rows[at]
    return rows


def letters_typed(text: str) -> dict[str, str]:
    """``A = Ridge 4 mm; B = Fell 3 mm`` as letters with their cords."""
    found = filter(None, map(_NAMED.fullmatch, re.split(r"[;\n]", text)))
    return {match[1].upper(): match[2] for match in found}


def letters_text(letters: Mapping[str, str]) -> str:
    return "; ".join(f"{letter} = {cord}" for letter, cord in letters.items())


def address_of(asked: Asked) -> str:
    """The address under which the same is asked again."""
    query = {"stack": asked.line.text, **asked.line.letters}
    if asked.only:
        query["cord"] = asked.only
    query |= {name: text for name, text in asked.beside.items() if text}
    return f"/predict?{urlencode(query)}"


def with_line(asked: Asked, line: StackLine) -> Asked:
    return replace(asked, line=line)
