"""The blank card: asks what recording asks, in its order, on one page, whole and inside its edges."""

import datetime as dt
import re
import xml.etree.ElementTree as ET

import pytest

from plaitlog.models.whip import QUALITIES, Cord
from plaitlog.service.reports import svg
from plaitlog.service.reports.blank_card import FEWEST_ROWS, MARGIN, SHEETS, Paper, reading_rows, to_svg
from plaitlog.service.reports.pictures import pdf_from_svg
from plaitlog.service.usecases.pictures.carding import blank_card
from plaitlog.service.usecases.predicting import CAUTION
from plaitlog.service.usecases.recording.dialogue import Bench, Draft
from plaitlog.service.usecases.recording.questions import TYPES
from plaitlog.service.usecases.recording.record import answer, next_question
from plaitlog.service.usecases.shown_units import ShownUnits

KINDS = [None, *TYPES]
PAPERS: list[Paper] = ["a4", "letter"]
LEAST = 1.9
"""Smallest size of print in mm: 5.4 points."""
Text = tuple[float, float, float, str, str]


def texts(kind: str | None, paper: Paper = "a4", units: ShownUnits | None = None) -> list[Text]:
    """x, y, size, anchor and words of every text on the card."""
    root = ET.fromstring(to_svg(blank_card(kind, units), paper))
    return [
        (
            float(x.get("x", 0)),
            float(x.get("y", 0)),
            float(x.get("font-size", 0)),
            x.get("text-anchor", ""),
            x.text or "",
        )
        for x in root.iter()
        if x.tag.endswith("}text")
    ]


def recorded(kind: str) -> list[str]:
    """Keys of the questions that a maker answers who records a whip of that type in all detail."""
    cord = Cord(name="Ridge 4 mm", material="nylon", construction="cored")
    bench = Bench(today=dt.date(2026, 3, 1), cords={cord.name: cord}, units=ShownUnits())
    typed = {
        "label": "2026-001", "type": kind, "thong_length": "6 ft", "cord.A": cord.name,
        "layer.1": "core 6A; 12: -1 each 4 to 0 cut", "layer.2": "overlay 16A; p",
        "readings.1": "0 each 6: 17 16 15", "rate": "yes",
    }  # fmt: skip
    draft, keys = Draft("new"), []
    while (question := next_question(draft, bench)) is not None:
        keys.append(question.key)
        draft = answer(draft, question, typed.get(question.key, "-")).draft
    return keys


@pytest.mark.parametrize("kind", TYPES)
def test_the_card_asks_what_recording_asks_in_the_same_order(kind: str) -> None:
    on_card = [field.key for field in blank_card(kind).fields]
    asked = [key for key in recorded(kind) if key != "rate"]
    # More layers, with cords of their own, and one table of readings instead of line after line.
    alike = [key for key in on_card if key in asked]
    assert [key for key in asked if key in on_card] == alike
    assert {re.sub(r"[.](\d+|[A-Z])$", "", key) for key in asked} == {
        re.sub(r"[.](\d+|[A-Z])$", "", key) for key in on_card
    }


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("paper", PAPERS)
def test_every_question_stands_on_the_page_whole_and_below_the_one_before(
    kind: str | None, paper: Paper
) -> None:
    said = texts(kind, paper)
    places = []
    for field in blank_card(kind).fields:
        head = field.key.partition(".")[0]
        if head in {"layer", "cord", "readings", "feel"}:
            continue
        ask = field.ask.partition(" (")[0] if head == "rating" else field.ask
        x, y, *_ = next(text for text in said if re.match(rf"{re.escape(ask)}(?:$|[?:])", text[4]))
        places.append((y, x))
    assert places == sorted(places)
    assert len(places) > 8


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_runs_over_the_edge_or_is_too_small_or_cut(kind: str | None, paper: Paper) -> None:
    width, height = SHEETS[paper]
    for x, y, size, anchor, words in texts(kind, paper):
        assert size >= LEAST
        assert MARGIN <= y <= height - MARGIN + 2, words
        left = x - svg.width_of(words, size) * {"end": 1, "middle": 0.5}.get(anchor, 0)
        assert left >= MARGIN - 0.5, words
        assert left + svg.width_of(words, size) <= width - MARGIN + 0.5, words
        assert "…" not in words
    root = ET.fromstring(to_svg(blank_card(kind), paper))
    for line in (x for x in root.iter() if x.tag.endswith("}line")):
        assert MARGIN <= float(line.get("x1", 0)) <= float(line.get("x2", 0)) <= width - MARGIN + 0.01
        assert float(line.get("y2", 0)) <= height - MARGIN
    assert reading_rows(blank_card(kind), paper) >= FEWEST_ROWS + 1


def test_texts_do_not_cover_each_other() -> None:
    boxes = []
    for x, y, size, anchor, words in texts(None):
        wide = svg.width_of(words, size) * 0.93  # the estimate is on the wide side
        left = x - wide * {"end": 1, "middle": 0.5}.get(anchor, 0)
        boxes.append((left, y - 0.72 * size, left + wide, y, words))
    for place, one in enumerate(boxes):
        for other in boxes[place + 1 :]:
            apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
            assert apart, (one, other)


def test_every_quality_is_rated_from_1_to_10_with_its_anchors() -> None:
    said = [text[4] for text in texts("stock whip")]
    for number in map(str, range(1, 11)):
        assert said.count(number) == len(QUALITIES)
    assert said.count("not tried") == len(QUALITIES)
    assert "1 tangles, 5 ready after a beat, 10 falls in line, next throw at once" in said


def test_a_test_plait_is_not_rated_and_needs_no_caution_about_throwing() -> None:
    said = " ".join(text[4] for text in texts("test plait"))
    assert "not tried" not in said
    assert "Throw" not in said
    assert "Cut away from the hand" in said


def test_cautions_of_bench_and_rating_are_there_and_estimates_are_no_injury() -> None:
    lines = [text[4] for text in texts("bullwhip")]
    said = " ".join(lines)
    for word in ("eye protection", "ventilate", "never water", "tape or gloves", "No lead", "Throw with eye"):
        assert word in said
    assert lines.count(CAUTION) == 1
    assert lines.index(CAUTION) == 1


def test_the_makers_units_are_asked_for() -> None:
    said = " ".join(text[4] for text in texts("stock whip", units=ShownUnits("cm", "in")))
    for words in (
        "Thong length (cm)",
        "Handle diameter over everything (in)",
        "Ø (in)",
        "at (cm)",
        "places in cm",
    ):
        assert words in said


@pytest.mark.parametrize("paper", PAPERS)
def test_the_pdf_is_one_page_of_that_paper(paper: Paper) -> None:
    (box,) = re.findall(rb"/MediaBox *\[([^\]]*)\]", pdf_from_svg(to_svg(blank_card(), paper)))
    width, height = SHEETS[paper]
    assert [float(x) for x in box.split()] == pytest.approx(
        [0, 0, width / 25.4 * 72, height / 25.4 * 72], abs=0.01
    )
