"""Numbers in cells: whether a comma is a decimal mark or parts thousands is told from the whole file.

Some texts have one reading only: ``12,7`` and ``0,125`` have a decimal comma, ``1,234.5`` a decimal point.
``1,234`` has two. Where the file holds evidence for one way only, that way is taken; else such a text is
refused. A point is a decimal mark unless the file is known to write commas.
"""

import re
from dataclasses import dataclass
from typing import Final, Literal

from plaitlog.models.errors import Finding, InputError

Mark = Literal["comma", "point"]

_FRONT: Final = re.compile(r"[-+]?[0-9.,](?:[0-9.,]|['’ \u00a0\u202f\u2009](?=[0-9]{3}(?![0-9])))*")
_GROUPED: Final = re.compile(r"[0-9]{1,3}(?:['’ \u00a0\u202f\u2009][0-9]{3})+")
_PLAIN: Final = re.compile(r"[0-9]+")


@dataclass(slots=True)
class DecimalEvidence:
    """How many numbers of a file can only be read with a decimal comma, and how many only with a point."""

    comma: int = 0
    point: int = 0

    def see(self, text: str) -> None:
        found = _FRONT.match(text.strip())
        if found is None:
            return
        mark = _only_reading(found[0].lstrip("+-"))
        if mark == "comma":
            self.comma += 1
        elif mark == "point":
            self.point += 1

    def mark(self, hint: Mark | None = None) -> Mark | None:
        """The way the file writes, where it does so throughout; ``hint`` where it holds no evidence."""
        if self.comma and not self.point:
            return "comma"
        if self.point and not self.comma:
            return "point"
        return None if self.comma else hint


def plain_number(text: str, mark: Mark | None, semicolons: bool = False) -> str:
    """The text with the number at its front written with a decimal point and without thousands marks.

    ``semicolons``: the file parts its cells by semicolons, as programs do where the comma is decimal.

    Raises
    ------
    InputError
        Where the number has two readings, each with a different value.
    """
    stripped = text.strip()
    found = _FRONT.match(stripped)
    if found is None or "/" in stripped[found.end() : found.end() + 1]:
        return stripped
    front = found[0]
    sign = "-" if front.startswith("-") else ""
    digits = front.lstrip("+-")
    grouped = _GROUPED.match(digits)
    if grouped is not None:
        digits = re.sub(r"[^0-9.,]", "", grouped[0]) + digits[grouped.end() :]
    elif not re.fullmatch(r"[0-9.,]+", digits):
        return stripped
    return f"{sign}{_as_point(digits, mark, semicolons, stripped)}{stripped[found.end() :]}"


def _as_point(digits: str, mark: Mark | None, semicolons: bool, text: str) -> str:
    commas, points = digits.count(","), digits.count(".")
    if not commas and not points:
        return digits
    if commas and points:
        last = "," if digits.rfind(",") > digits.rfind(".") else "."
        other = "." if last == "," else ","
        head, _, tail = digits.rpartition(last)
        return f"{head.replace(other, '')}.{tail}" if _are_thousands(head, other) else digits
    sign = "," if commas else "."
    if commas + points > 1:
        return digits.replace(sign, "") if _are_thousands(digits, sign) else digits
    if not _are_thousands(digits, sign):
        return digits.replace(",", ".")
    if sign == ".":
        if mark == "comma":
            return digits.replace(".", "")
        if mark == "point" or not semicolons:
            return digits
    elif mark is not None:
        return digits.replace(",", "." if mark == "comma" else "")
    raise InputError(
        Finding(
            "number-ambiguous",
            f"{text!r} can be {digits.replace(sign, '.')} or {digits.replace(sign, '')}",
            "say --decimal comma or --decimal point for this file, or write the number without that mark",
        )
    )


def _only_reading(digits: str) -> Mark | None:
    commas, points = digits.count(","), digits.count(".")
    if commas and points:
        return "comma" if digits.rfind(",") > digits.rfind(".") else "point"
    if commas + points == 0:
        return None
    sign = "," if commas else "."
    if commas + points > 1:
        return ("point" if sign == "," else "comma") if _are_thousands(digits, sign) else None
    if _are_thousands(digits, sign):
        return None
    return "comma" if sign == "," else "point"


def _are_thousands(digits: str, sign: str) -> bool:
    """Whether every mark stands where one that parts thousands would."""
    head, *groups = digits.split(sign)
    return (
        bool(_PLAIN.fullmatch(head))
        and len(head) <= 3
        and (not head.startswith("0"))
        and all(len(group) == 3 and _PLAIN.fullmatch(group) for group in groups)
    )
