"""``plaitlog export``: give everything out again as JSON Lines."""

import os
import sys
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, BinaryIO, cast

import typer

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.cli.options import Database
from plaitlog.service.cli.output import say
from plaitlog.service.cli.workshop import reading


def register(app: typer.Typer) -> None:
    app.command("export")(export)


def export(
    context: typer.Context,
    out: Annotated[
        Path | None, typer.Option("--out", help="The file to write; standard output without it.")
    ] = None,
    database: Database = None,
) -> None:
    """Write every record as JSON Lines that an import takes back without loss."""
    from plaitlog.service.usecases.exporting import export_lines

    with reading(context, database) as session:
        if out is None or str(out) == "-":
            _copy(export_lines(session), sys.stdout.buffer)
            return
        with written(out) as stream:
            lines = _copy(export_lines(session), stream)
    say(f"{lines} records written to {out}")


def _copy(lines: Iterable[bytes], stream: BinaryIO) -> int:
    count = 0
    for line in lines:
        stream.write(line)
        count += 1
    stream.flush()
    return count


@contextmanager
def written(file: Path) -> Iterator[BinaryIO]:
    """A stream whose content takes the place of ``file`` once all of it is there, and not before."""
    try:
        with tempfile.NamedTemporaryFile(
            dir=file.absolute().parent, prefix=f".{file.name}.", delete=False
        ) as stream:
            part = Path(stream.name)
            try:
                yield cast("BinaryIO", stream.file)
                stream.flush()
                part.chmod(0o666 & ~_umask())
                os.replace(part, file)  # noqa: PTH105
            except BaseException:
                part.unlink(missing_ok=True)
                raise
    except OSError as error:
        raise InputError(
            Finding("file-unwritable", f"{file} cannot be written: {error.strerror}", "check folder and room")
        ) from error


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
