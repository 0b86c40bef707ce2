"""The physical lines of a text file, one at a time and none longer than the limit."""

import contextlib
import io
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import BinaryIO

from plaitlog.service.usecases.spreadsheets.encoding import MARKED, Encoding


@dataclass(frozen=True, slots=True)
class Line:
    """One line with its line break, and its number from 1; only its beginning where it is too long."""

    number: int
    text: str
    too_long: bool = False


class Lines:
    """Lines in order; lines looked at may be put back."""

    def __init__(self, lines: Iterable[Line]) -> None:
        self._lines = iter(lines)
        self._put_back: deque[Line] = deque()

    def __iter__(self) -> Iterator[Line]:
        return self

    def __next__(self) -> Line:
        return self._put_back.popleft() if self._put_back else next(self._lines)

    def put_back(self, lines: list[Line]) -> None:
        """Give these lines, in this order, before what comes."""
        self._put_back.extendleft(reversed(lines))


def physical_lines(stream: BinaryIO, encoding: Encoding, limit: int) -> Iterator[Line]:
    """The lines of a file, none longer than ``limit`` characters.

    A line ends with CR LF, LF or CR, whichever comes, also mixed within one file. The line feeds that other
    programs count (U+2028, form feed) are text.
    """
    stream.seek(encoding.mark_bytes)
    text = io.TextIOWrapper(stream, encoding.name, errors=MARKED, newline="")
    try:
        number = 0
        cut_in_line_break = False
        while line := text.readline(limit + 2):  # the line break may take two
            if cut_in_line_break and line == "\n":
                cut_in_line_break = False
                continue
            number += 1
            if len(line.rstrip("\r\n")) <= limit:
                yield Line(number, line)
                continue
            yield Line(number, line[:limit], too_long=True)
            cut_in_line_break = _pass_over(text, line, limit + 2)
    finally:
        with contextlib.suppress(ValueError):  # the caller may have closed the file by now
            text.detach()


def _pass_over(text: io.TextIOWrapper, line: str, size: int) -> bool:
    """Read to the end of a line that is too long; whether it was cut between CR and LF."""
    while line and not line.endswith(("\r", "\n")):
        line = text.readline(size)
    return len(line) == size and line.endswith("\r")
