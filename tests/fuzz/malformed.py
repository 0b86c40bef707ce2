"""Malformed tables by name: the bytes of each, and what must become of every row of it.

Every file is a table of whips. ``rejected`` gives for each row that cannot be taken its line (in xlsx its
row), and words that the refusal must hold; ``error`` is the code with which a file is refused whole.
"""

from dataclasses import dataclass, field

HEAD = "label,made on,thong length (mm),weight (g),thick (mm),notes"
SOUND = "w1,2026-03-02,1830,412,22.3,first"
MORE = "w2,2026-03-09,1900,420,22.1,second"


@dataclass(frozen=True)
class Malformed:
    """One file: ``rows`` below the header, and those of them that are rejected, at sight or when understood.

    ``at_sight`` are the lines that are refused before any cell is understood.
    """

    name: str
    data: bytes
    rows: int = 0
    rejected: dict[int, tuple[str, ...]] = field(default_factory=dict)
    at_sight: tuple[int, ...] = ()
    error: str | None = None
    findings: tuple[str, ...] = ()
    file_name: str = "whips.csv"

    def __str__(self) -> str:
        return self.name


def lines(*rows: str, head: str = HEAD, end: str = "\r\n") -> str:
    """A file with a header."""
    return end.join([head, *rows]) + end


def table(*rows: str, head: str = HEAD, end: str = "\r\n", encoding: str = "utf-8") -> bytes:
    """The same as bytes."""
    return lines(*rows, head=head, end=end).encode(encoding)


def semicolons(*rows: str) -> bytes:
    """A file of a program that writes decimal commas: semicolons between cells."""
    return table(*rows, head=HEAD.replace(",", ";"))
