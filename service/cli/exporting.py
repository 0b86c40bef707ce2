"""``plaitlog export``: give everything out again as JSON Lines, CSV or xlsx."""

import os
import shutil
import sys
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any, BinaryIO, Literal, cast

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
        Path | None,
        typer.Option(
            "--out",
            help="The file to write, standard output without it; for csv a folder, or a file with --table.",
        ),
    ] = None,
    form: Annotated[
        Literal["jsonl", "csv", "xlsx"],
        typer.Option("--format", help="jsonl: records; csv: one file a table; xlsx: one sheet a table."),
    ] = "jsonl",
    table: Annotated[
        str | None,
        typer.Option(
            "--table",
            metavar="KIND",
            help="With csv, one table only: makers, cords, stock, whips, layers, turn lengths, weighings, "
            "cord used, readings, ratings; or notebook: a row a whip, a column a station.",
        ),
    ] = None,
    database: Database = None,
) -> None:
    """Write every record so that an import takes it back without loss.

    The files of a folder of CSV files are imported in the order in which they are listed. Two things no
    table can hold: the maker's own rating with nothing rated, and a text above 32 767 characters.
    """
    if table is not None and form != "csv":
        raise InputError(Finding("option", "goes with --format csv", "leave it out", "--table"))
    with reading(context, database) as session:
        if form == "csv":
            _export_csv(session, out, table)
        elif form == "xlsx":
            _export_xlsx(session, out)
        else:
            _export_lines(session, out)


def _export_lines(session: Any, out: Path | None) -> None:
    from plaitlog.service.usecases.exporting import export_lines

    if _is_stdout(out):
        _copy(export_lines(session), sys.stdout.buffer)
        return
    assert out is not None
    with written(out) as stream:
        lines = _copy(export_lines(session), stream)
    say(f"{lines} records written to {out}")


def _export_csv(session: Any, out: Path | None, name: str | None) -> None:
    from plaitlog.service.usecases.spreadsheets.catalogue import NOTEBOOK, TABLES
    from plaitlog.service.usecases.spreadsheets.exporting import chosen_table, export_csv, file_name

    if name in NOTEBOOK:
        _export_notebook(session, out)
        return
    if name is not None:
        table = chosen_table(name)
        if _is_stdout(out):
            _copy(export_csv(session, table), sys.stdout.buffer)
            return
        assert out is not None
        with written(out) as stream:
            _copy(export_csv(session, table), stream)
        say(f"{table.name} written to {out}")
        return
    if out is None or _is_stdout(out):
        raise InputError(
            Finding(
                "option",
                "csv has a file for each table",
                "name a folder with --out, or one table with --table",
            )
        )
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        text = f"{out} cannot be made: {error.strerror}"
        raise InputError(Finding("file-unwritable", text, "check folder and room")) from error
    for table in TABLES:
        with written(out / file_name(table)) as stream:
            _copy(export_csv(session, table), stream)
        say(f"{table.name} written to {out / file_name(table)}")


def _export_notebook(session: Any, out: Path | None) -> None:
    from plaitlog.service.usecases.spreadsheets.notebook import notebook_of, notebook_rows
    from plaitlog.service.usecases.spreadsheets.writing import write_csv

    notebook = notebook_of(session)
    rows = write_csv(notebook_rows(session, notebook))
    if _is_stdout(out):
        _copy(rows, sys.stdout.buffer)
    else:
        assert out is not None
        with written(out) as stream:
            _copy(rows, stream)
        say(f"notebook written to {out}")
    if notebook.left_out:
        has = "reading has" if notebook.left_out == 1 else "readings have"
        say(f"{notebook.left_out} {has} no place in it; the table of readings holds them all")


def _export_xlsx(session: Any, out: Path | None) -> None:
    from plaitlog.service.usecases.spreadsheets.exporting import export_xlsx

    if out is None or _is_stdout(out):
        with tempfile.TemporaryFile() as kept:
            export_xlsx(session, cast("BinaryIO", kept))
            kept.seek(0)
            shutil.copyfileobj(kept, sys.stdout.buffer)
            sys.stdout.buffer.flush()
        return
    with written(out) as stream:
        export_xlsx(session, stream)
    say(f"every table written to {out}")


def _is_stdout(out: Path | None) -> bool:
    return out is None or str(out) == "-"


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
