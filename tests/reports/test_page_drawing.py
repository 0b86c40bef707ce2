"""The drawing on a page: everything within it, in the page's colours, at the places that its scale says."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plaitlog.models.calibration.calibrated import prior_calibration
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.reports.page_drawing import LEFT, RIGHT, WIDTH, page_drawing
from plaitlog.service.reports.page_fills import legend
from plaitlog.service.schemas.refusals import record_from
from plaitlog.service.usecases.from_records import Refusals
from plaitlog.service.usecases.merging import begin, take_in
from plaitlog.service.usecases.pictures.drawing import drawn
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.predicting import NO_FIT, InForce
from plaitlog.service.usecases.shown_units import ShownUnits
from tests.usecases.examples import BULLWHIP, NOTEBOOK_WHIP

PRIORS = InForce(prior_calibration(), None, (NO_FIT,))
CORDS = {
    name: Cord(name=name, material="nylon", construction="cored", diameter_mm=size)
    for name, size in (("Ridge 4 mm", 4.0), ("Fell 3 mm", 3.0))
}
MARKUP = "x" * 90 + "<script>alert('a') & \"b\"</script>"


def whip(record: Any = BULLWHIP) -> Whip:
    """The whip of a record, its readings placed."""
    shape = record_from(record)
    merged = begin(None, shape.label)
    take_in(merged, shape, 1, Refusals())
    return placed(merged.after)


def picture(of: Whip, wanted: tuple[tuple[float, float], ...] = ()) -> ET.Element:
    return ET.fromstring(page_drawing(drawn(PRIORS, of, CORDS, ShownUnits(), without_stack=True), wanted))


def numbers(shape: ET.Element, *names: str) -> list[float]:
    found = [float(shape.get(name, 0)) for name in names if shape.get(name) is not None]
    return found + [float(x) for x in re.findall(r"-?[\d.]+", shape.get("d") or "")][:: len(names)]


@pytest.mark.parametrize("record", [BULLWHIP, NOTEBOOK_WHIP])
def test_everything_lies_within_the_picture(record: object) -> None:
    root = picture(whip(record))
    _, _, width, height = map(float, (root.get("viewBox") or "").split())
    assert width == WIDTH
    for shape in root.iter():
        if shape.tag.endswith("pattern"):
            continue
        for x in (*numbers(shape, "x"), *numbers(shape, "x1", "x2"), *numbers(shape, "cx")):
            assert -1 <= x <= max(width, height)
        for name in ("y", "y1", "y2", "cy"):
            assert -1 <= float(shape.get(name, 0)) <= height


def test_readings_lie_where_the_attributes_for_the_script_say() -> None:
    made = whip()
    root = picture(made)
    start, end = float(root.get("data-start", 0)), float(root.get("data-end", 0))
    x0, x1 = float(root.get("data-x0", 0)), float(root.get("data-x1", 0))
    assert (start, end, x0, x1) == (-200.0, 1830.0, LEFT, RIGHT)
    finished = [
        one for one in root.iter() if (one.get("class") or "").startswith("measured") and one.get("cx")
    ]
    places = sorted(start + (float(one.get("cx", 0)) - x0) / (x1 - x0) * (end - start) for one in finished)
    assert places == pytest.approx([20, 609.6, 1830], abs=0.01)


def test_no_colour_and_no_style_is_the_drawing_s_own() -> None:
    text = page_drawing(drawn(PRIORS, whip(), CORDS, ShownUnits()), [(0.0, 22.0), (1800.0, 6.0)])
    assert "style" not in text
    assert not re.findall(r'(?:fill|stroke)="(?!url\(#)#?[^"]*"', re.sub(r'stroke="#1a1a1a"', "", text))


def test_what_is_typed_stays_text() -> None:
    made = whip({**BULLWHIP, "label": MARKUP})
    layers = tuple(replace(layer, what=MARKUP if layer.role == "binding" else None) for layer in made.layers)
    root = picture(replace(made, layers=layers))
    assert not [one for one in root.iter() if one.tag.endswith("script")]
    assert MARKUP in (root.get("aria-label") or "")


def test_what_is_wanted_is_a_line_of_its_own_and_in_the_legend() -> None:
    root = picture(whip(), ((0.0, 22.0), (900.0, 15.0), (1830.0, 6.0)))
    (line,) = [one for one in root.iter() if one.get("class") == "wanted"]
    assert len(re.findall(r"[ML]", line.get("d") or "")) == 3
    found = drawn(PRIORS, whip(), CORDS, ShownUnits())
    assert "wanted by its plan" in [words for _, words in legend(found, wanted=True)]
    assert "wanted by its plan" not in [words for _, words in legend(found, wanted=False)]


def test_a_whip_of_which_nothing_has_a_place_cannot_be_drawn() -> None:
    with pytest.raises(StackNotKnownError):
        picture(Whip(label="bare"))


@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.floats(1.0, 20_000.0), st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(0.1, 200.0)), max_size=4))
def test_readings_alone_are_drawn_on_a_thong_of_any_length(
    length: float, read: list[tuple[float, float]]
) -> None:
    readings = [{"at_mm": share * length, "diameter_mm": size} for share, size in read]
    made = whip({"kind": "whip", "label": "x", "thong_length_mm": length, "readings": readings})
    root = picture(made)
    dots = [one for one in root.iter() if one.get("cx") and one.get("class") == "measured"]
    assert len(dots) == len(read)
    for one in dots:
        assert LEFT - 0.01 <= float(one.get("cx", 0)) <= RIGHT + 0.01
