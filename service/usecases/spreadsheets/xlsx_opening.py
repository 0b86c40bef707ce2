"""xlsx."""

from typing import BinaryIO

from plaitlog.models.errors import Finding, TableError
from plaitlog.service.usecases.spreadsheets.table import TableLimits, Workbook


def open_xlsx(stream: BinaryIO, limits: TableLimits) -> Workbook:
    raise TableError(Finding("not-a-table", "xlsx files cannot be read yet", "save as CSV"))
