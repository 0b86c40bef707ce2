"""Layers and readings row by row: the same line, there and back, and what a hand would fill in."""

import pytest

from plaitlog.models.notation import parse_readings, parse_schedule
from plaitlog.service.usecases.recording.layer_rows import (
    GivenSize,
    LayerRow,
    LayerRows,
    line_of_layer,
    line_of_size,
    rows_of_layer,
)
from plaitlog.service.usecases.recording.layers import letters_of, role_of, with_head
from plaitlog.service.usecases.recording.reading_rows import (
    ReadingRow,
    ReadingRows,
    line_of_readings,
    rows_of_readings,
)
from plaitlog.service.usecases.recording.readings import with_readings_head
from plaitlog.service.usecases.shown_units import ShownUnits

TYPED_IN = ShownUnits()
LINES = [
    "overlay 16A; 30: -2 each 4 to 8 tuck 3; p",
    "core 13A; 2 1/2: -1 each 2 1/2 to 0 cut",
    "core 12; ~20: -2; ?: -2; 28..34: end",
    "overlay 8A+8B u2o2u2o2; 30: -2A -2B u3o3 gut tuck 3; 44: -4 u2o2 run; p",
    "overlay 16; 30: -2 tuck 3; 34: -2 ?; 38: +2; 50: -4 run gut; ?",
    "belly 10..12A; p",
]


def meaning(line: str) -> object:
    role, rest = role_of(line, "core")
    letters = {letter: letter for letter in letters_of(rest)}
    parsed = parse_schedule(with_head(rest, "in"), letters=letters)
    steps = [
        (step.place, step.counts, step.fate or parsed.fate, step.pattern) for step in parsed.schedule.steps
    ]
    return role, steps[0][1], list(steps[1:]), parsed.schedule.rest


@pytest.mark.parametrize("line", LINES)
def test_a_line_as_rows_says_the_same(line: str) -> None:
    rows = rows_of_layer(line, "core", "in", None)
    assert rows is not None
    assert meaning(line_of_layer(rows)) == meaning(line)


def test_rows_as_somebody_fills_them_in() -> None:
    rows = LayerRows(
        "overlay",
        "16",
        (
            LayerRow("30", "14", "tuck", "3"),
            LayerRow("34", "12", "tuck", "3"),
            LayerRow("", ""),
            LayerRow("~40", "10"),
            LayerRow("50", "0"),
        ),
    )
    assert line_of_layer(rows) == "overlay 16; 30: =14 tuck 3; 34: =12; ~40: =10 ?; 50: end"


def test_a_row_half_filled_in_stays_visible_as_a_slip() -> None:
    assert line_of_layer(LayerRows("core", "6", (LayerRow("30", ""),))) == "core 6; 30: =; p"


@pytest.mark.parametrize(
    "line", ["binding 0.2 mm thread to 40", "core 9 mm rope", "core 6A; 30", "", "12: 6A; p"]
)
def test_what_rows_cannot_say_stays_a_line(line: str) -> None:
    assert rows_of_layer(line, "core", "in", None) is None


def test_a_layer_without_strands() -> None:
    given = GivenSize("binding", "0.2", "thread", "0", "40")
    assert line_of_size(given, "mm") == "binding 0.2 mm thread from 0 to 40"
    assert line_of_size(GivenSize("core", "3/8 in", "rope"), "mm") == "core 3/8 in rope"


READINGS = [
    "0 each 6: 19.2/18.8 17.9/17.7 16.4 _ 14.1? 12.6",
    "thick 18,5; mid 13; p 7,2",
    "layer 2, fresh: 0: 15.4; 12: 13.9/13.5",
]


@pytest.mark.parametrize("line", READINGS)
def test_readings_as_rows_say_the_same(line: str) -> None:
    rows = rows_of_readings(line, (), TYPED_IN)
    assert rows is not None
    again = with_readings_head(line_of_readings(rows), TYPED_IN)
    assert parse_readings(again).readings == parse_readings(with_readings_head(line, TYPED_IN)).readings


def test_readings_by_tape_have_no_rows() -> None:
    assert rows_of_readings("girth mm, tape 0.3: 6: 55.5", (), TYPED_IN) is None


def test_rows_of_readings_as_somebody_fills_them_in() -> None:
    rows = (ReadingRow("0", "19.2", "18.8"), ReadingRow("", ""), ReadingRow("p", "7.2"))
    assert line_of_readings(ReadingRows(rows, "layer 2", "waxed")) == "layer 2, waxed: 0: 19.2/18.8; p 7.2"
