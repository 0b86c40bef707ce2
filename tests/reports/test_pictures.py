"""PNG and PDF of an SVG: the size it states, the fonts it needs, text that stays text."""

import os
import re
import struct
from pathlib import Path
from xml.etree import ElementTree

import pytest

from plaitlog.service.reports import svg
from plaitlog.service.reports.picture_fonts import VARIABLE, converter, font_list, without_own
from plaitlog.service.reports.pictures import pdf_from_svg, png_from_svg

SIGNS = "5′ 6½″ ¼ ¾ ⅛ ⅜ ⅝ ⅞ Ø 12.9 mm −2 ± … – × ~ °"


def page(words: str = SIGNS) -> str:
    plain = svg.text(10, 20, words, 4)
    bold = svg.text(10, 40, words, 4, font_weight="bold")
    return svg.document(210, 297, "page", plain, bold, svg.text(10, 60, words, 4, font_style="italic"))


def test_png_has_the_size_that_the_svg_states_in_pixels() -> None:
    picture = png_from_svg(page(), scale=1)
    assert picture.startswith(b"\x89PNG\r\n\x1a\n")
    width, height = struct.unpack(">II", picture[16:24])
    assert (width, height) == (int(210 / 25.4 * 96), int(297 / 25.4 * 96))
    assert struct.unpack(">II", png_from_svg(page())[16:24]) == (1587, 2245)


def test_pdf_is_one_page_in_the_size_that_the_svg_states() -> None:
    document = pdf_from_svg(page())
    assert document.startswith(b"%PDF-")
    boxes = re.findall(rb"/MediaBox *\[([^\]]*)\]", document)
    assert len(boxes) == 1
    left, bottom, width, height = map(float, boxes[0].split())
    assert (left, bottom) == (0, 0)
    assert abs(width - 210 / 25.4 * 72) < 0.01
    assert abs(height - 297 / 25.4 * 72) < 0.01


def test_signs_of_the_trade_come_from_the_font_that_the_converter_brings() -> None:
    """A sign that it lacked would be taken from another font, or be missing where there is none."""
    fonts = {name.split(b"+")[-1] for name in re.findall(rb"/BaseFont */([^\s/]+)", pdf_from_svg(page()))}
    assert fonts == {b"LiberationSans", b"LiberationSans-Bold", b"LiberationSans-Italic"}


def test_text_stays_text_in_a_pdf() -> None:
    """The map from glyphs back to characters names every sign."""
    document = pdf_from_svg(page()).lower()
    assert document.count(b"beginbfchar") == 3
    for sign in set(SIGNS) - {" "}:
        assert document.count(f"<{ord(sign):04x}>".encode()) >= 3, sign


def test_a_picture_gives_the_same_bytes_again() -> None:
    assert png_from_svg(page()) == png_from_svg(page())


def test_the_machines_fonts_are_listed_but_for_the_family_that_the_converter_brings(tmp_path: Path) -> None:
    for name in (
        "truetype/liberation/LiberationSans-Bold.ttf",
        "truetype/dejavu/DejaVuSans.ttf",
        "otf/a/b.otf",
    ):
        (tmp_path / "fonts" / name).parent.mkdir(parents=True)
        (tmp_path / "fonts" / name).touch()
    found = list(without_own([tmp_path / "fonts", tmp_path / "nowhere"]))
    assert found == [tmp_path / "fonts" / "otf", tmp_path / "fonts" / "truetype" / "dejavu"]
    listed = ElementTree.fromstring(font_list([tmp_path / "R&D", *found]))
    assert [one.text for one in listed] == [str(tmp_path / "R&D"), *map(str, found)]


def test_the_converter_leaves_no_trace_in_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(VARIABLE, raising=False)
    converter.cache_clear()
    assert converter().svg_to_pdf(page()).startswith(b"%PDF")
    assert VARIABLE not in os.environ
