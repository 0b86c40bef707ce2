"""The pages of a bench sheet: nothing lost, cut, coloured or covered, heads repeated, every page numbered."""

import re
import time
import xml.etree.ElementTree as ET
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from plaitlog.models.whip import Whip
from plaitlog.service.reports import svg
from plaitlog.service.reports.bench_sheet import BenchSheet, Paper, pages, to_html, to_pdf
from plaitlog.service.reports.bench_sheet_content import DropRow, LayerBlock, MeasureRow, StripPart
from plaitlog.service.reports.bench_sheet_flow import MARGIN
from plaitlog.service.reports.blank_card import SHEETS
from plaitlog.service.usecases.planning.sheet import bench_sheet
from plaitlog.service.usecases.predicting import CAUTION
from plaitlog.service.usecases.shown_units import ShownUnits
from tests.planning.drawn_plans import BULL, CORDS, IN_FORCE, STOCK, finished

PAPERS: list[Paper] = ["a4", "letter"]
WHIPS = [pytest.param(STOCK, id="stock whip"), pytest.param(BULL, id="bullwhip")]
UNITS = [ShownUnits(), ShownUnits("mm", "in"), ShownUnits("ft", "mm")]
POINT = 25.4 / 72
SVG = "{http://www.w3.org/2000/svg}"
NASTY = 'Tamsin\'s </text><script>alert(1)</script> & "sons" \u0007 '
Text = tuple[float, float, float, str, str, bool]


def sheet_of(whip: Whip, shown: ShownUnits | None = None) -> BenchSheet:
    return bench_sheet(IN_FORCE, finished(whip), shown or ShownUnits())


def texts(page: str) -> list[Text]:
    """x of the left edge, y, width, size, words and boldness of every text."""
    found = []
    for one in (x for x in ET.fromstring(page).iter() if x.tag == f"{SVG}text"):
        size, words = float(one.get("font-size", 0)), one.text or ""
        bold = one.get("font-weight") == "bold"
        # The estimate is on the wide side for plain letters; bold ones run about as wide.
        wide = svg.width_of(words, size) * (1.0 if bold else 0.93)
        left = float(one.get("x", 0)) - (wide if one.get("text-anchor") == "end" else 0)
        found.append((left, float(one.get("y", 0)), wide, str(size), words, bold))
    return found


def long_sheet() -> BenchSheet:
    """A layer of so many drops, and so many readings, that they run over several pages."""
    rows = tuple(
        DropRow(
            station=str(k * 10), gap="" if k == 0 else "10", strands=f"{99 - k} to {98 - k}", pattern="u2o2",
            fate="cut", strip=StripPart(before=(9.0, 9.0), after=(9.0, 8.9)),
        )
        for k in range(90)
    )  # fmt: skip
    measures = tuple(
        MeasureRow(station=str(k * 10 + 5), on_layer="1", interval="8.1–9.2") for k in range(120)
    )
    block = LayerBlock(
        title="Layer 1, core", to_do=("Begin.",), rows=rows, after=(), measures=measures, weight="Weight"
    )
    return replace(sheet_of(STOCK), layers=(block,), final=())


@pytest.mark.parametrize("whip", WHIPS)
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("shown", UNITS)
def test_nothing_is_cut_too_small_or_over_the_edge(whip: Whip, paper: Paper, shown: ShownUnits) -> None:
    width, height = SHEETS[paper]
    for page in pages(sheet_of(whip, shown), paper):
        root = ET.fromstring(page)
        assert (root.get("width"), root.get("height")) == (f"{width:g}mm", f"{height:g}mm")
        for left, y, wide, size, words, _ in texts(page):
            assert "…" not in words
            assert float(size) >= 10 * POINT - 0.001
            assert left >= MARGIN - 0.1, words
            assert left + wide <= width - MARGIN + 0.5, words
            assert MARGIN <= y <= height - MARGIN + 0.5, words
        for line in (x for x in root.iter() if x.tag == f"{SVG}line"):
            assert all(MARGIN <= float(line.get(x, 0)) <= width - MARGIN + 0.01 for x in ("x1", "x2"))
            assert all(MARGIN <= float(line.get(y, 0)) <= height - MARGIN + 0.01 for y in ("y1", "y2"))


@pytest.mark.parametrize("whip", WHIPS)
def test_what_is_read_at_the_bench_is_twelve_points(whip: Whip) -> None:
    sheet = sheet_of(whip)
    said = {words: float(size) for page in pages(sheet) for _, _, _, size, words, _ in texts(page)}
    rows = [row for block in sheet.layers for row in block.rows]
    read = [
        text for row in rows for text in (row.station, row.gap, row.strands, row.pattern, row.fate) if text
    ]
    read += [row.interval for block in sheet.layers for row in block.measures]
    read += [text for row in sheet.cut for text in (row.letter, row.length, row.middle)]
    for text in read:
        assert said[text] == pytest.approx(12 * POINT, abs=0.001), text


@pytest.mark.parametrize("whip", WHIPS)
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("shown", UNITS)
def test_texts_do_not_cover_each_other(whip: Whip, paper: Paper, shown: ShownUnits) -> None:
    for page in pages(sheet_of(whip, shown), paper):
        boxes = [(x, y - 0.7 * float(size), x + wide, y, words) for x, y, wide, size, words, _ in texts(page)]
        for place, one in enumerate(boxes):
            for other in boxes[place + 1 :]:
                apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
                assert apart, (one, other)


@pytest.mark.parametrize("whip", WHIPS)
def test_nothing_is_coloured(whip: Whip) -> None:
    for page in pages(sheet_of(whip)):
        for name in re.findall(r'(?:fill|stroke|color)="([^"]*)"', page):
            assert name in {"white", "none"} or re.fullmatch(r"#(..)\1\1", name), name
        assert " style=" not in page


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("sheet", [sheet_of(STOCK), sheet_of(BULL), long_sheet()])
def test_every_row_stands_once_and_in_its_order(paper: Paper, sheet: BenchSheet) -> None:
    said = [words for page in pages(sheet, paper) for *_, words, _ in texts(page)]
    rows = [row for block in sheet.layers for row in block.rows]
    told = [row.strands for row in rows]
    assert [words for words in said if words in set(told)] == told
    for fact in (*sheet.facts, sheet.defer, CAUTION):
        assert fact in " ".join(said)


@pytest.mark.parametrize("paper", PAPERS)
def test_heads_are_repeated_where_a_table_goes_on(paper: Paper) -> None:
    drawn = pages(long_sheet(), paper)
    with_rows = []
    for page in drawn:
        said = [words for *_, words, _ in texts(page)]
        if any(re.fullmatch(r"\d+ to \d+", words) for words in said):
            with_rows.append(said)
    assert len(with_rows) >= 3
    for said in with_rows[1:]:
        assert "Layer 1, core, continued" in said
        first = next(place for place, words in enumerate(said) if re.fullmatch(r"\d+ to \d+", words))
        assert "station in" in said[:first]
    readings = [said for page in drawn if "low–high mm" in (said := [words for *_, words, _ in texts(page)])]
    assert len(readings) >= 2
    assert all(CAUTION in said or "Measure: Layer 1, core, continued" in said for said in readings)


@pytest.mark.parametrize("paper", PAPERS)
def test_no_head_is_left_at_the_foot_of_a_page(paper: Paper) -> None:
    for sheet in (sheet_of(STOCK), sheet_of(BULL), long_sheet()):
        for page in pages(sheet, paper):
            *_, last = sorted(texts(page), key=lambda text: text[1])
            assert float(last[3]) < 5, f"{last[4]} stands alone"


@pytest.mark.parametrize("whip", WHIPS)
def test_every_page_has_the_label_and_its_number(whip: Whip) -> None:
    drawn = pages(sheet_of(whip))
    for number, page in enumerate(drawn, start=1):
        said = [words for *_, words, _ in texts(page)]
        assert whip.label in said
        assert f"page {number} of {len(drawn)}" in said


def test_the_strip_falls_where_the_row_says() -> None:
    """Beside each row the outline steps in the row's middle, and is as wide as the whip is thick."""
    sheet = sheet_of(STOCK)
    page = next(page for page in pages(sheet) if "Layer 3, overlay" in page)
    root = ET.fromstring(page)
    start = next(y for _, y, _, _, words, _ in texts(page) if words == "Layer 3, overlay")
    lines = [
        {key: float(x.get(key, 0)) for key in ("x1", "x2", "y1", "y2", "stroke-width")}
        for x in root.iter()
        if x.tag == f"{SVG}line" and float(x.get("y1", 0)) > start
    ]
    steps = [
        line
        for line in lines
        if line["stroke-width"] == 0.35 and line["y1"] == line["y2"] and line["x2"] < 40
    ]
    block = sheet.layers[-1]
    assert len(steps) == len(block.rows)
    tops = {words: y for _, y, _, _, words, _ in texts(page) if y > start}
    for row, step in zip(block.rows, steps, strict=True):
        assert abs(tops[row.strands] - step["y1"]) < 2, "level with its row"
        sides = [
            side
            for side in (row.strip.before and row.strip.before[1], row.strip.after and row.strip.after[0])
            if side
        ]
        assert step["x2"] - step["x1"] == pytest.approx(max(sides), abs=0.01)


def test_names_are_text_whatever_they_hold() -> None:
    cords = {**CORDS, NASTY: replace(CORDS["Fell 3 mm"], name=NASTY)}
    layers = tuple(
        replace(layer, cords=tuple(replace(one, cord=NASTY) for one in layer.cords)) for layer in STOCK.layers
    )
    whip = replace(STOCK, label=NASTY, maker=NASTY, layers=layers, cracker=NASTY, fall="x" * 300)
    sheet = bench_sheet(IN_FORCE, finished(whip, cords), ShownUnits())
    drawn = pages(sheet)
    for page in drawn:
        names = {x.tag.removeprefix(SVG) for x in ET.fromstring(page).iter()}
        assert names <= {"svg", "title", "rect", "text", "line", "path"}
        for left, _, wide, _, words, _ in texts(page):
            assert left + wide <= 210 - MARGIN + 0.5, words
    seen: list[str] = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag: str, attrs: object) -> None:
            seen.append(tag)

    Reader().feed(to_html(sheet, drawn))
    assert "script" not in seen
    assert seen.count("svg") == len(drawn)


def test_the_page_needs_nothing_from_outside() -> None:
    page = to_html(sheet_of(BULL), pages(sheet_of(BULL)))
    assert not re.search(r"(?:src|href)=|url\(|@import", page)
    assert set(re.findall(r"https?://[^\"'<> ]+", page)) == {"http://www.w3.org/2000/svg"}


@pytest.mark.parametrize("paper", PAPERS)
def test_the_pdf_has_the_pages_in_their_size_and_order(paper: Paper) -> None:
    from io import BytesIO

    from pypdf import PdfReader

    drawn = pages(sheet_of(STOCK), paper)
    width, height = SHEETS[paper]
    read = PdfReader(BytesIO(to_pdf(drawn)))
    assert len(read.pages) == len(drawn)
    for number, page in enumerate(read.pages, start=1):
        assert float(page.mediabox.width) == pytest.approx(width / POINT, abs=0.01)
        assert float(page.mediabox.height) == pytest.approx(height / POINT, abs=0.01)
        assert f"page {number} of {len(drawn)}" in page.extract_text()


def test_the_sheet_is_there_at_once() -> None:
    plan = finished(BULL)
    spent = []
    for _ in range(3):
        begun = time.process_time()
        pages(bench_sheet(IN_FORCE, plan, ShownUnits()))
        spent.append(time.process_time() - begun)
    assert min(spent) < 0.5


@pytest.mark.parametrize(("paper", "size"), [("a4", "210mm 297mm"), ("letter", "215.9mm 279.4mm")])
def test_the_html_prints_on_the_same_paper(paper: Paper, size: str) -> None:
    sheet = sheet_of(STOCK)
    assert f"@page{{size:{size};margin:0}}" in to_html(sheet, pages(sheet, paper))
