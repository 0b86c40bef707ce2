"""Everything out again as streams of bytes, of one moment each; for the pages and for programs."""

import tempfile
import zipfile
from collections.abc import Iterator
from itertools import chain
from typing import BinaryIO, Final, cast

from sqlalchemy import Engine

from plaitlog.models.errors import Finding, NotFoundError, nearest_or
from plaitlog.service.database import reading
from plaitlog.service.usecases.exporting import export_lines
from plaitlog.service.usecases.photos.exporting import photos_zip
from plaitlog.service.usecases.spreadsheets.catalogue import NOTEBOOK, TABLES
from plaitlog.service.usecases.spreadsheets.columns import Table

NAMES: Final = {table.name.replace(" ", "-"): table for table in TABLES}
"""Tables by their name in an address."""
KNOWN: Final = (*NAMES, NOTEBOOK[0])
JSON_LINES: Final = "application/jsonl"
CSV: Final = "text/csv"
XLSX: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
IN_MEMORY_BYTES: Final = 1_000_000
PIECE_BYTES: Final = 65_536


def attached(file: str) -> dict[str, str]:
    """The header that has a browser keep an answer as a file; the name is one of this program's own."""
    return {"Content-Disposition": f'attachment; filename="{file}"'}


def lines(engine: Engine) -> Iterator[bytes]:
    """Every record, one a line."""

    def parts() -> Iterator[bytes]:
        with reading(engine) as session:
            yield from export_lines(session)

    return _begun(parts())


def table(engine: Engine, name: str) -> Iterator[bytes]:
    """One table, or the notebook, as CSV.

    Raises
    ------
    NotFoundError
        With the nearest name.
    """
    if name == NOTEBOOK[0]:
        return _begun(_notebook(engine))
    found = NAMES.get(name)
    if found is None:
        remedy = nearest_or(name, KNOWN, f"there are {', '.join(KNOWN)}")
        raise NotFoundError(Finding("table-not-found", f"there is no table {name!r}", remedy))
    return _begun(_rows(engine, found))


def workbook(engine: Engine) -> Iterator[bytes]:
    """Every table as a sheet of one xlsx file."""
    from plaitlog.service.usecases.spreadsheets.exporting import export_xlsx

    stream = cast("BinaryIO", tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES))  # noqa: SIM115
    try:
        with reading(engine) as session:
            export_xlsx(session, stream)
    except BaseException:
        stream.close()
        raise
    stream.seek(0)
    return pieces(stream)


def pieces(stream: BinaryIO) -> Iterator[bytes]:
    """What is left of a stream, which is closed at the end."""
    with stream:
        while piece := stream.read(PIECE_BYTES):
            yield piece


def _begun(parts: Iterator[bytes]) -> Iterator[bytes]:
    """The same parts; what cannot be done is found out before the answer begins."""
    return chain([next(parts, b"")], parts)


def _rows(engine: Engine, table: Table) -> Iterator[bytes]:
    from plaitlog.service.usecases.spreadsheets.exporting import export_csv

    with reading(engine) as session:
        yield from export_csv(session, table)


def _notebook(engine: Engine) -> Iterator[bytes]:
    from plaitlog.service.usecases.spreadsheets.notebook import notebook_of, notebook_rows
    from plaitlog.service.usecases.spreadsheets.writing import write_csv

    with reading(engine) as session:
        yield from write_csv(notebook_rows(session, notebook_of(session)))


def tables_zip(engine: Engine) -> Iterator[bytes]:
    """Every table as CSV in one archive, numbered in the order in which they are imported again."""
    from plaitlog.service.usecases.spreadsheets.exporting import export_csv, file_name

    stream = cast("BinaryIO", tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES))  # noqa: SIM115
    with reading(engine) as session, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for number, one in enumerate(TABLES, start=1):
            with archive.open(f"{number:02d}-{file_name(one)}", "w", force_zip64=True) as part:
                for piece in export_csv(session, one):
                    part.write(piece)
    stream.seek(0)
    return pieces(stream)


def photos(engine: Engine) -> Iterator[bytes]:
    """Every photo in one archive."""
    stream = cast("BinaryIO", tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES))  # noqa: SIM115
    with reading(engine) as session:
        photos_zip(session, stream)
    stream.seek(0)
    return pieces(stream)
