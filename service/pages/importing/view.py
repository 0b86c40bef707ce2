"""What the pages of an import show, as plain data."""

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from sqlalchemy.orm import Session

from plaitlog.models.errors import NotFoundError
from plaitlog.service.pages.importing.said import ENCODINGS
from plaitlog.service.pages.rendering import moment
from plaitlog.service.staged_imports import PASTED, asked_of, is_fresh, is_lines, is_long
from plaitlog.service.staged_uploads import Staged
from plaitlog.service.usecases.jobs import Job, one_job
from plaitlog.service.usecases.spreadsheets.looking import NOT_KNOWN, READING, kinds_of_tables
from plaitlog.service.usecases.spreadsheets.mapped import PASSED_OVER
from plaitlog.service.usecases.spreadsheets.matching import titles_of

CELLS_SHOWN: Final = 400
"""Fields for cells to be put right, all rows together: what is beyond is mended in a spreadsheet."""
COLUMNS_SHOWN: Final = 300
_REMEDIES: Final = {
    "column-unknown": "say what it is, or pass it over",
    "column-missing": "say which column that is, or choose another kind of table",
    "table-ambiguous": "choose the kind of table",
    "no-table": "choose the kind of table, then say what its columns are",
    "column-twice": "pass one of them over",
    "unit-missing": "choose the unit of the column, or write it beside the number",
    "unit-wrong": "say what the column is",
    "number-ambiguous": "choose the decimal mark, or write the number without that mark",
}
_OUTCOMES: Final = {"add": "new", "update": "changed", "there already": "there already"}


def waiting_data(found: Sequence[Staged]) -> list[dict[str, Any]]:
    return [
        {
            "token": one.token,
            "name": one.name or "a file without a name",
            "size": size_words(one.size_bytes),
            "sent_at": moment(one.sent_at),
        }
        for one in found
    ]


def size_words(size_bytes: int) -> str:
    if size_bytes >= 1_000_000:
        return f"{size_bytes / 1e6:.1f}".removesuffix(".0") + " MB"
    return f"{size_bytes / 1e3:.0f} kB" if size_bytes >= 1_000 else f"{size_bytes} bytes"


def step_data(
    session: Session,
    kept: Staged,
    seen: dict[str, Any] | None,
    found: dict[str, Any] | None,
    typed: Mapping[str, str],
) -> dict[str, Any]:
    """A file on its way in: its columns, what its rows would do, what is left to be asked.

    typed : what stands in the form, where it is shown again.
    """
    asked = asked_of(kept)
    sheets = [] if seen is None else _sheets(seen, asked.left_out, typed)
    questions = [
        in_page_words(finding) for sheet in sheets if sheet["read"] for finding in sheet.pop("findings")
    ]
    report = None if found is None else found["report"]
    refusals = [] if found is None else [in_page_words(x) for x in found["refusals"]]
    return {
        "token": kept.token,
        "name": kept.name or "a file without a name",
        "size": size_words(kept.size_bytes),
        "is_lines": is_lines(kept),
        "is_long": is_long(kept),
        "job": None if found is not None or questions else _job(session, kept),
        "sheets": sheets,
        "several_sheets": len(sheets) > 1,
        "encoding": asked.encoding or "",
        "encodings": list(ENCODINGS),
        "found_encoding": "" if seen is None else seen["encoding"] or "",
        "is_text": seen is not None and seen["encoding"] is not None and kept.name != PASTED,
        "decimal": asked.decimal or "",
        "questions": questions,
        "not_known": any(column["key"] == NOT_KNOWN for sheet in sheets for column in sheet["columns"]),
        "refusals": refusals,
        "report": None if report is None else _report(report, typed),
        "stale": found is not None and not is_fresh(session, found),
        "tables": [table.name for table in kinds_of_tables()],
    }


def job_of(session: Session, kept: Staged) -> Job | None:
    """The job that works or worked on a file; None where there was none, or it is known no longer."""
    number = kept.read("job")
    if number is None:
        return None
    try:
        return one_job(session, number)
    except NotFoundError:
        return None


def _job(session: Session, kept: Staged) -> dict[str, Any] | None:
    job = job_of(session, kept)
    return None if job is None else {"number": job.number, "live": job.live, "doing": job.doing}


def _sheets(seen: dict[str, Any], left_out: Sequence[str], typed: Mapping[str, str]) -> list[dict[str, Any]]:
    sheets = []
    fields = 0
    for number, sheet in enumerate(seen["sheets"]):
        field = f"s{number}"
        columns = []
        for column in sheet["columns"]:
            fields += 1
            at = f"{field}-c{column['index']}"
            columns.append(
                {
                    **column,
                    "field": at if fields <= COLUMNS_SHOWN and column["header"] else "",
                    "samples": [text[:40] for text in column["samples"]],
                    "key": typed.get(f"{at}-key", column["key"]),
                    "at": typed.get(f"{at}-at", column["at"]),
                    "unit": typed.get(f"{at}-unit", column["unit"] or ""),
                }
            )
        sheets.append(
            {
                "field": field,
                "name": sheet["name"],
                "read": sheet["name"] not in left_out,
                "table": sheet["table"] or "",
                "line": sheet["line"],
                "recalled": sheet["recalled"],
                "station_unit": sheet["station_unit"],
                "columns": columns,
                "options": _options(sheet["table"]),
                "findings": sheet["findings"],
            }
        )
    return sheets


def _options(table: str | None) -> list[list[str]]:
    """What a column of such a table can be."""
    if table is None:
        return [[PASSED_OVER, "pass over"]]
    readings = [[READING, "reading at a station"]] if table == "whips" else []
    return [[PASSED_OVER, "pass over"], *readings, *([key, title] for key, title in titles_of(table))]


def _report(report: dict[str, Any], typed: Mapping[str, str]) -> dict[str, Any]:
    counts = report["counts"]
    rejected = []
    left = CELLS_SHOWN
    for number, row in enumerate(report["rejected"]):
        findings = [in_page_words(finding) for finding in row["findings"]]
        follows = all(finding["code"] == "rejected-with-whip" for finding in findings)
        left -= 0 if follows else len(row["cells"])
        place = f"Row {row['line']} of sheet {row['sheet']}" if row["sheet"] else f"Line {row['line']}"
        rejected.append(
            {
                "number": number,
                "sheet": row["sheet"],
                "line": row["line"],
                "place": place,
                "findings": findings,
                "cells": []
                if follows or left < 0
                else [
                    {
                        "column": column,
                        "header": _header(row["headers"], column),
                        "was": text,
                        "text": typed.get(f"cell-{number}-{column}", text),
                        "wrong": any(
                            f"column {_header(row['headers'], column)!r}" in finding["where"]
                            for finding in findings
                        ),
                    }
                    for column, text in enumerate(row["cells"])
                    if text or column < len(row["headers"])
                ],
            }
        )
    return {
        "counts": counts,
        "rows_in_all": report["rows_in_all"],
        "taken": counts["add"] + counts["update"],
        "readings_added": report["readings_added"],
        "rows": [
            {
                **row,
                "outcome": _OUTCOMES.get(row["outcome"], row["outcome"]),
                "detail": _without_keys(row["detail"]),
                "findings": [in_page_words(finding) for finding in row["findings"]],
            }
            for row in report["rows"]
        ],
        "rejected": rejected,
        "rejected_not_shown": max(0, counts["rejected"] - len(rejected)),
        "details": any(row["detail"] or row["findings"] for row in report["rows"]),
        "said": report["said"],
        "findings": [in_page_words(finding) for finding in report["findings"]],
    }


def _without_keys(detail: str) -> str:
    """What is new in a row, without the marks that keys of records have."""
    plain = re.sub(r"_(mm|g|g_per_m|g_per_cm3)\b", "", detail.removeprefix("changed: "))
    return plain.replace("_", " ")


def _header(headers: Sequence[str], column: int) -> str:
    return (headers[column] if column < len(headers) else "") or f"column {column + 1}"


def in_page_words(finding: Mapping[str, str]) -> dict[str, str]:
    """A finding with a remedy that the page has, where its own names options of the command line."""
    remedy, where = finding["remedy"], finding["where"]
    remedy, other, _ = remedy.partition("; or read other sheets only, with --sheet")
    if "--station" in remedy or "says where" in finding["text"]:
        remedy = "choose what the stations are counted in"
    elif "--" in remedy:
        remedy = _REMEDIES.get(finding["code"], "say so in the form")
    if other:
        remedy = f"{remedy}; or leave the sheet out"
    return {
        "code": finding["code"],
        "text": finding["text"],
        "remedy": remedy,
        "where": "" if where.startswith("--") else where,
    }
