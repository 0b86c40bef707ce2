"""Files named on the command line, opened for reading bytes; - is standard input."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from plaitlog.models.errors import Finding, InputError


@contextmanager
def opened(file: Path) -> Iterator[tuple[BinaryIO, int | None]]:
    """The stream and its length in bytes, where that is known."""
    if str(file) == "-":
        yield sys.stdin.buffer, None
        return
    try:
        stream = file.open("rb")
    except OSError as error:
        raise InputError(
            Finding("file-unreadable", f"{file} cannot be read: {error.strerror}", "check the path")
        ) from error
    with stream:
        yield stream, file.stat().st_size
