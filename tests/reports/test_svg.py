"""SVG as text: whatever a maker types comes out as valid XML, whole where there is room and cut where not."""

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plaitlog.service.reports import svg

ANYTHING = st.text(st.characters(codec=None), max_size=60) | st.sampled_from(
    [
        "<script>alert(1)</script>",
        "\"quotes\" & 'apostrophes'",
        "]]>",
        "&amp;",
        "<!--",
        "\x00\x1b\ufffe",
        "\ud800",
    ]
)
PRINTED = st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=80)


def parsed(picture: str) -> ET.Element:
    """The root; raises where it is no XML, or cannot be written as UTF-8."""
    return ET.fromstring(picture.encode("utf-8"))


@given(words=ANYTHING, name=ANYTHING)
def test_whatever_is_typed_is_text_and_never_markup(words: str, name: str) -> None:
    root = parsed(svg.document(20, 10, name, svg.text(1, 2, words, class_=words)))
    texts = [element for element in root if element.tag.endswith("text")]
    assert len(root) == 3
    assert len(texts) == 1
    assert len(texts[0]) == 0
    # XML itself turns a carriage return into a line feed.
    kept = svg.clean(words).replace("\r\n", "\n").replace("\r", "\n")
    assert (texts[0].text or "") == kept


@given(words=PRINTED)
def test_printable_text_is_kept_as_it_is(words: str) -> None:
    assert parsed(svg.text(0, 0, words)).text == (words or None)


@given(st.floats(-1e5, 1e5))
def test_a_coordinate_is_kept_to_a_thousandth_and_has_one_form(value: float) -> None:
    text = svg.number(value)
    assert float(text) == pytest.approx(value, abs=0.00051)
    assert "e" not in text
    assert text != "-0"
    assert svg.number(float(text)) == text


@given(words=PRINTED, width=st.floats(5, 120), size=st.floats(2, 6))
def test_a_text_is_whole_where_it_fits_and_cut_with_an_ellipsis_where_not(
    words: str, width: float, size: float
) -> None:
    tidy = " ".join(words.split())
    found = svg.fitted(words, width, size)
    if found == tidy:
        assert svg.width_of(found, size) <= width
    else:
        assert found.endswith("…")
        assert tidy.startswith(found[:-1])
        assert svg.width_of(found, size) <= max(width, svg.width_of("…", size))


@given(words=st.lists(st.text("abcdefgh", min_size=1, max_size=8), max_size=30), width=st.floats(30, 120))
def test_wrapping_keeps_every_word_in_its_place(words: list[str], width: float) -> None:
    lines = svg.wrapped(" ".join(words), width, 3)
    assert " ".join(lines).split() == words
    assert all(svg.width_of(line, 3) <= width for line in lines)
