"""The bench sheet: the pages from which a whip is made, in the order of work, black on white, 12 points."""

import io
import re
from collections.abc import Iterator
from html import escape
from typing import Final

from plaitlog.service.reports import bench_sheet_rows as rows
from plaitlog.service.reports import svg
from plaitlog.service.reports.bench_sheet_content import BenchSheet as BenchSheet
from plaitlog.service.reports.bench_sheet_content import Section
from plaitlog.service.reports.bench_sheet_flow import MARGIN, SMALL, Block, flowed, on_pages
from plaitlog.service.reports.bench_sheet_tables import cut_block, layer_blocks, measures, total_block
from plaitlog.service.reports.blank_card import SHEETS
from plaitlog.service.reports.blank_card import Paper as Paper
from plaitlog.service.reports.pictures import pdf_from_svg

_SIZE: Final = re.compile(r'\s(?:width|height)="([\d.]+mm)"')
"""Width and height of a page, first of all sizes in it."""


def pages(sheet: BenchSheet, paper: Paper = "a4") -> list[str]:
    """Each page as an SVG of the size of the paper."""
    left, right = MARGIN, SHEETS[paper][0] - MARGIN
    blocks = [
        *_head(sheet, left, right),
        cut_block(sheet, left, right),
        total_block(sheet, left, right),
        _section(sheet.foundation, left, right),
        *layer_blocks(sheet, left, right),
        *(_section(part, left, right) for part in sheet.parts),
        *_closing(sheet, left, right),
    ]
    contents = flowed([block for block in blocks if block.rows], paper)
    return on_pages(contents, sheet.label, sheet.about, paper)


def to_pdf(drawn: list[str]) -> bytes:
    """Pages (each an SVG) as one PDF, in their order and size."""
    from pypdf import PdfWriter

    joined = PdfWriter()
    for page in drawn:
        joined.append(io.BytesIO(pdf_from_svg(page)))
    found = io.BytesIO()
    joined.write(found)
    return found.getvalue()


def to_html(sheet: BenchSheet, drawn: list[str]) -> str:
    """The pages as one page of HTML that needs nothing else, and prints page by page."""
    name = escape(svg.clean(f"Bench sheet {sheet.label}"))
    shown = "\n".join(drawn)
    size = " ".join(_SIZE.findall(drawn[0])[:2])
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{name}</title><style>"
        "body{margin:0;background:#fff}svg{display:block;max-width:100%;height:auto;margin:0 auto}"
        "svg+svg{border-top:1px solid #000}"
        f"@page{{size:{size};margin:0}}"
        "@media print{svg{break-after:page;max-width:none}"
        "svg:last-of-type{break-after:auto}svg+svg{border:0}}"
        f"</style></head><body>\n{shown}\n</body></html>\n"
    )


def _head(sheet: BenchSheet, left: float, right: float) -> Iterator[Block]:
    said = [row for fact in sheet.facts for row in rows.words(fact, left, right)]
    for letter, cord in sheet.cords:
        said += rows.words(cord, left, right, lead=f"{letter} =")
    about = f"{sheet.about[:1].upper()}{sheet.about[1:]}"
    yield Block((rows.title(about, left, right, "bench sheet"),), tuple(said))
    numbers = [row for words in sheet.estimates for row in rows.words(words, left, right)]
    numbers += rows.words(f"This rests on {sheet.rests_on}.", left, right, SMALL)
    numbers += [row for words in sheet.findings for row in rows.words(words, left, right, SMALL)]
    yield Block((rows.title("What to expect", left, right, sheet.caution),), tuple(numbers))
    cautions = [
        row for job, words in sheet.cautions for row in rows.words(words, left, right, SMALL, lead=f"{job}:")
    ]
    cautions += rows.words(sheet.defer, left, right, SMALL)
    yield Block((rows.title("Take care", left, right),), tuple(cautions), whole=True)


def _section(section: Section, left: float, right: float) -> Block:
    steps = [row for step in section.steps for row in rows.words(step, left, right, box=True)]
    return Block((rows.title(section.title, left, right),), tuple(steps), whole=True)


def _closing(sheet: BenchSheet, left: float, right: float) -> Iterator[Block]:
    before = tuple(rows.blanks(sheet.blanks_before, left, right))
    yield Block((rows.title("As it came out", left, right),), before)
    yield measures(sheet, "Final readings", sheet.final, left, right)
    after = tuple(rows.blanks(sheet.blanks_after, left, right))
    yield Block((rows.title("Then note", left, right),), after, filling=rows.blank_line(left, right))
