"""The report on handling as a page: nothing but text and pictures, whatever the records hold."""

import base64
import datetime as dt
import hashlib
import re
from xml.etree import ElementTree

import pytest

from plaitlog.service.reports.handling_charts import forest, scatter
from plaitlog.service.reports.handling_page import handling_page
from plaitlog.service.reports.handling_report import (
    AssociationRow,
    HandlingReport,
    NamedPoint,
    Part,
    Scatter,
)

NASTY = "<script>alert(\"1\")</script> & 'Ridge' {{ 7 * 7 }}"


def row(title: str, rho: float | None, *, claimed: bool = False) -> AssociationRow:
    low, high = (None, None) if rho is None else (max(rho - 0.2, -1.0), min(rho + 0.2, 1.0))
    return AssociationRow(
        title=title, quality="volley", n=30, rho=rho, low_95=low, high_95=high, p="0.010", q="0.040",
        partial="+0.30", bend="none seen (p 0.500)" if rho else "", claimed=claimed,
        why="" if rho else "all are alike",
    )  # fmt: skip


def points(labels: list[str]) -> tuple[NamedPoint, ...]:
    return tuple(
        NamedPoint(label=label, value=float(k % 7), rating=(k * 3 % 5) - 2.0)
        for k, label in enumerate(labels)
    )


REPORT = HandlingReport(
    asked=f"What goes with good volley in {NASTY}s?",
    words=("Volley goes with a smaller middle share.", NASTY),
    made_at=dt.datetime(2026, 3, 2, tzinfo=dt.UTC),
    rests_on="30 whips",
    price="6 pairs, 12 tests",
    rows=(row("middle share", -0.6, claimed=True), row(NASTY, 0.1), row("point", None)),
    scatters=(Scatter(parameter=NASTY, quality="volley", points=points([NASTY, "2024-001", "2024-002"])),),
    parts=(Part(title="What to aim for", sentences=(NASTY,)),),
    caution="not yet cause",
)


def test_the_page_is_text_and_pictures_and_nothing_is_fetched() -> None:
    page = handling_page(REPORT)
    assert "<script>" not in page
    assert "49" not in re.sub(r"<style>.*?</style>|<svg.*?</svg>", "", page, flags=re.DOTALL)
    assert not re.search(r"(?:src|href)=", page)
    style = re.search(r"<style>(.*?)</style>", page, re.DOTALL)
    assert style is not None
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert f"style-src 'sha256-{digest}'" in page


def test_words_come_first_then_pictures_then_figures() -> None:
    page = handling_page(REPORT)
    places = [page.index(part) for part in ("The answer", "In pictures", "The figures", "What to aim for")]
    assert places == sorted(places)
    assert page.index("Volley goes with a smaller middle share.") < page.index("<table")


def test_every_row_stands_in_the_table_and_what_cannot_be_told_says_why() -> None:
    page = handling_page(REPORT)
    assert page.count('data-name="whips"') == 3
    assert "all are alike" in page
    assert page.count('<tr class="own">') == 1


def test_the_forest_draws_what_is_known_where_it_lies() -> None:
    drawn = ElementTree.fromstring(forest([row("a", -1.0), row("b", 0.0, claimed=True), row("c", None)]))
    marks = list(drawn.iter("circle"))
    assert [mark.get("class") for mark in marks] == ["out", "in"]
    left, middle = (float(mark.get("cx", 0)) for mark in marks)
    assert left == pytest.approx(150)
    assert middle == pytest.approx((150 + 350) / 2)


@pytest.mark.parametrize("number", [5, 40, 300])
def test_every_whip_is_drawn_named_when_pointed_at_and_names_never_meet(number: int) -> None:
    labels = [f"2024-{k:03}" for k in range(number)]
    drawn = ElementTree.fromstring(scatter(Scatter(parameter="x", quality="volley", points=points(labels))))
    named = [group.find("title") for group in drawn.iter("g")]
    assert sorted(one.text or "" for one in named if one is not None) == labels
    written = [text for text in drawn.iter("text") if text.text in labels]
    boxes = [(float(one.get("x", 0)), float(one.get("y", 0))) for one in written]
    assert len(boxes) >= min(number, 5) - 1
    for k, (x, y) in enumerate(boxes):
        assert all(abs(x - a) > 20 or abs(y - b) > 7 for a, b in boxes[:k])
