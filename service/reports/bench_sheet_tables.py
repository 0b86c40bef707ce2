"""The tables of a bench sheet: what to cut, what to drop where, where to measure."""

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Final

from plaitlog.service.reports import bench_sheet_rows as rows
from plaitlog.service.reports import svg
from plaitlog.service.reports.bench_sheet_content import BenchSheet, DropRow, LayerBlock, MeasureRow
from plaitlog.service.reports.bench_sheet_flow import READ, SMALL, Block, Row
from plaitlog.service.reports.bench_sheet_rows import Column
from plaitlog.service.reports.bench_sheet_strip import WIDTH, mark_in_words, scale_across, strip_part

BETWEEN: Final = 6.0
"""Room between two tables side by side, mm."""


def cut_block(sheet: BenchSheet, left: float, right: float) -> Block:
    columns = (
        Column("tick", "", 7),
        Column("layer", "layer", 32),
        Column("letter", "cord", 13),
        Column("pieces", "pieces", 17, numbers=True),
        Column("length", "length", 34, numbers=True),
        Column("middle", "folded at, from one end", 48, numbers=True),
        Column("gap", "", 4),
        Column("made", "cord is", right - left - 155),
    )
    head = rows.table_head(columns, left)
    said = tuple(rows.words(sheet.cut_words, left, right, SMALL))
    return Block(
        (rows.title("Cut", left, right), *said, head),
        tuple(_row(columns, one, left) for one in sheet.cut),
        (rows.title("Cut, continued", left, right), head),
    )


def total_block(sheet: BenchSheet, left: float, right: float) -> Block:
    columns = (
        Column("letter", "", 9),
        Column("cord", "cord in all", right - left - 134),
        Column("metres", "metres", 24, numbers=True),
        Column("grams", "grams", 22, numbers=True),
        Column("lacks", "stock lacks", 46, numbers=True),
        Column("price", "price", 33, numbers=True),
    )
    head = rows.table_head(columns, left)
    return Block((head,), tuple(_row(columns, one, left) for one in sheet.totals), (head,))


def layer_blocks(sheet: BenchSheet, left: float, right: float) -> Iterator[Block]:
    """Of each layer its drops with the strip at their side, then what follows it and where to measure."""
    scale = scale_across(sheet.layers)
    for layer in sheet.layers:
        yield _drops(sheet, layer, left, right, scale)
        follows = [row for step in layer.after for row in rows.words(step, left, right, box=True)]
        if follows:
            yield Block((), tuple(follows))
        yield measures(sheet, f"Measure: {layer.title}", layer.measures, left, right)
        yield Block((), tuple(_weight(layer.weight, left, right)))


def _drops(sheet: BenchSheet, layer: LayerBlock, left: float, right: float, scale: float) -> Block:
    table = left + WIDTH + 2
    columns = (
        Column("tick", "", 7),
        Column("station", f"station {sheet.length_unit}", 22, numbers=True),
        Column("gap", f"gap {sheet.length_unit}", 18, numbers=True),
        Column("room", "", 5),
        Column("strands", "strands", 33),
        Column("pattern", "pattern", 22),
        Column("fate", "dropped strands", right - table - 107),
    )
    head = rows.table_head(columns, table)
    to_do = [row for step in layer.to_do for row in rows.words(step, left, right)]
    drawn = tuple(_drop(columns, one, table, left + WIDTH / 2, scale) for one in layer.rows)
    title = rows.title(layer.title, left, right, _strip_words(scale) if layer.rows else "")
    if not drawn:
        return Block((title,), tuple(to_do), whole=True)
    again = (rows.title(f"{layer.title}, continued", left, right), _marked(head, left))
    return Block((title, *to_do, _marked(head, left)), drawn, again)


def _strip_words(scale: float) -> str:
    return f"strip: diameter {'true to size' if scale == 1 else f'1 : {round(1 / scale)}'}; dashed: inside"


def _marked(head: Row, left: float) -> Row:
    """The head of the table, with the mark explained over the strip."""

    def draw(y: float) -> str:
        words = svg.text(left, y + head.height - 2, "measure", SMALL)
        return head.draw(y) + words + mark_in_words(left + svg.width_of("measure", SMALL) + 2, y + 3.2)

    return Row(head.height, draw)


def _drop(columns: Sequence[Column], one: DropRow, left: float, middle_x: float, scale: float) -> Row:
    strip = Row(rows.ROW, lambda y: strip_part(one.strip, middle_x, y, rows.ROW, scale))
    cells = {key: getattr(one, key) for key in ("station", "gap", "strands", "pattern", "fate")}
    return rows.table_row(columns, cells, left, strip, done=one.done)


def measures(sheet: BenchSheet, title: str, places: Sequence[MeasureRow], left: float, right: float) -> Block:
    """Where to measure, in two tables side by side; the caution stands beside the numbers."""
    width = (right - left - BETWEEN) / 2
    layered = any(one.on_layer for one in places)
    on_layer = (Column("on_layer", "layer", 12),) if layered else ()
    free = width - 22 - 29 - (12 if layered else 0)
    columns = (
        Column("station", f"at {sheet.length_unit}", 22, numbers=True),
        *on_layer,
        Column("interval", f"low–high {sheet.diameter_unit}", 29, numbers=True),
        Column("blank", "read", free / 2),
        Column("blank across", "across", free / 2),
    )
    cut = (len(places) + 1) // 2
    tables = [
        [rows.table_head(columns, start), *(_row(columns, one, start) for one in part)]
        for start, part in ((left, places[:cut]), (left + width + BETWEEN, places[cut:]))
    ]
    head, *drawn = rows.side_by_side(*tables)
    return Block(
        (rows.title(title, left, right, sheet.caution), head),
        tuple(drawn),
        (rows.title(f"{title}, continued", left, right), head),
        whole=True,
    )


def _weight(words: str, left: float, right: float) -> list[Row]:
    return [rows.blank(words, left, right, READ)] if words else []


def _row(columns: Sequence[Column], one: object, left: float) -> Row:
    return rows.table_row(columns, asdict(one), left)  # type: ignore[call-overload]
