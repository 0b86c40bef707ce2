"""Which table a sheet is, where its header stands, and what each of its columns says."""

from collections.abc import Sequence

from plaitlog.models.errors import Finding, nearest_or
from plaitlog.service.usecases.spreadsheets.catalogue import RATINGS, TABLES, WHIPS, table_named
from plaitlog.service.usecases.spreadsheets.column_units import (
    lacks_station_unit,
    same_station_unit,
    station_unit_missing,
    with_unit,
)
from plaitlog.service.usecases.spreadsheets.columns import Table
from plaitlog.service.usecases.spreadsheets.mapped import Choices, Layout
from plaitlog.service.usecases.spreadsheets.matching import match_headers, twice, unknown_column


def header_texts(cells: Sequence[object]) -> tuple[str, ...]:
    """The cells of a header row as text; whole numbers without a decimal point."""
    return tuple(
        ""
        if cell is None
        else f"{cell:g}"
        if isinstance(cell, float) and cell.is_integer()
        else " ".join(str(cell).split())
        for cell in cells
    )


def could_be_header(texts: Sequence[str], choices: Choices) -> bool:
    """Whether these cells can be the header of a table: most of them are known names."""
    filled = [text for text in texts if text]
    if not filled:
        return False
    tables = [table_named(choices.table)] if choices.table else TABLES
    for table in tables:
        match = None if table is None else match_headers(texts, table, choices)
        if match is not None and match.complete:
            known = len(match.columns) + len(match.passed_over)
            if known >= min(2, len(filled)) and known * 2 >= len(filled):
                return True
    return False


def lay_out(
    sheet: str, hint: str, line: int, texts: tuple[str, ...], choices: Choices
) -> Layout | list[Finding]:
    """The layout of a sheet whose header is ``texts``, or all that stands in the way.

    ``hint``: name of the sheet or the file, which tells the table where the header fits several.
    """
    table = told_table(texts, hint, choices)
    if isinstance(table, Finding):
        return [table]
    match = match_headers(texts, table, choices)
    wrong = list(match.wrong)
    wrong += twice(match)
    unknown = {index: unknown_column(text, table) for index, text in match.unknown.items()}
    if (wrong or not match.complete) and unknown:
        return [*unknown.values(), *wrong]
    if not match.complete and not wrong:
        needed = next(required for required in table.required if not match.keys & required)
        title = " or ".join(
            column.title for column in table.columns if column.key in needed and column.way != "typed"
        )
        wrong.append(
            Finding(
                "column-missing",
                f"a table of {table.name} needs a column {title!r}",
                'name the column with --map "Header=key", or say --table for another kind of table',
            )
        )
    if wrong:
        return wrong
    columns = same_station_unit([with_unit(each, choices) for each in match.columns])
    if lacking := [each for each in columns if lacks_station_unit(each)]:
        return [*unknown.values(), station_unit_missing(lacking)]
    return Layout(sheet, table, line, texts, tuple(columns), tuple(match.passed_over), unknown)


def told_table(texts: Sequence[str], hint: str, choices: Choices) -> Table | Finding:
    if choices.table is not None:
        named = table_named(choices.table)
        return named if named is not None else _no_table(choices.table)
    matches = [match_headers(texts, table, choices) for table in TABLES]
    fitting = [match for match in matches if match.fits]
    if len(fitting) > 1 and {match.table.name for match in fitting} >= {WHIPS.name, RATINGS.name}:
        whips = next(match for match in fitting if match.table is WHIPS)
        if all(key in {"label", "notes"} or key.startswith("ratings.") for key in whips.keys):
            fitting.remove(whips)
    if len(fitting) == 1:
        return fitting[0].table
    if (named := table_named(hint)) is not None:
        return named
    if fitting:
        names = " or ".join(f"--table {match.table.name!r}" for match in fitting)
        return Finding(
            "table-ambiguous", "the header fits more than one kind of table", f"say which it is: {names}"
        )
    known = [match for match in matches if match.complete]
    if known:
        best = min(known, key=lambda match: len(match.unknown) + len(match.wrong))
        return best.table
    nearest = max(matches, key=lambda match: len(match.columns))
    if len(nearest.columns) > 1:
        return nearest.table
    return Finding(
        "no-table",
        f"the header ({', '.join(repr(text) for text in texts[:6] if text)}) is that of no table",
        "say --table whips, readings, layers, ratings, cords or stock, and --map what it does not name so",
    )


def _no_table(name: str) -> Finding:
    names = [table.name for table in TABLES]
    return Finding(
        "table-unknown",
        f"{name!r} is no kind of table",
        nearest_or(name, names, f"known are {', '.join(names)}"),
        "--table",
    )
