"""Whole workshops out as tables and in again, for the tests."""

import io
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Engine

from plaitlog.service.database import reading, writing
from plaitlog.service.usecases.import_report import ImportReport
from plaitlog.service.usecases.spreadsheets.catalogue import TABLES
from plaitlog.service.usecases.spreadsheets.exporting import export_csv, export_xlsx, file_name
from plaitlog.service.usecases.spreadsheets.importing import import_table


def as_xlsx(engine: Engine) -> bytes:
    with reading(engine) as session:
        stream = io.BytesIO()
        export_xlsx(session, stream)
        return stream.getvalue()


def as_csv(engine: Engine) -> dict[str, bytes]:
    with reading(engine) as session:
        return {file_name(table): b"".join(export_csv(session, table)) for table in TABLES}


def take(engine: Engine, content: bytes | str, name: str = "table.csv", **options: Any) -> ImportReport:
    data = content.encode() if isinstance(content, str) else content
    with writing(engine) as session:
        return import_table(session, io.BytesIO(data), name, **options)


def take_all(engine: Engine, files: Mapping[str, bytes]) -> None:
    """Files of an export, in its order."""
    for name, content in files.items():
        take(engine, content, name)
