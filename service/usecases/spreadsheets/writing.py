"""Writing a spreadsheet: CSV or xlsx, with texts that would run as formulas made neutral."""

from plaitlog.service.usecases.spreadsheets.csv_writing import number_text, write_csv
from plaitlog.service.usecases.spreadsheets.neutral import neutral, plain
from plaitlog.service.usecases.spreadsheets.xlsx_writing import write_xlsx

__all__ = ["neutral", "number_text", "plain", "write_csv", "write_xlsx"]
