"""A strand schedule whose rest is not noted says nothing past what was noted of it."""

import pytest

from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.notation.schedule import parse_schedule
from plaitlog.models.stack import stack_at
from plaitlog.models.whip import Cord, Layer, LayerCord, Whip

CORDS = {"Ridge 4 mm": Cord(name="Ridge 4 mm", material="nylon", construction="cored")}


def whip(line: str) -> Whip:
    layer = LayerCord("Ridge 4 mm")
    schedule = parse_schedule(line, cords=[layer]).schedule
    layers = (Layer(role="overlay", cords=(layer,), schedule=schedule),)
    return Whip(label="old", thong_length_mm=1800, layers=layers, layers_complete=True)


@pytest.mark.parametrize(
    ("line", "known_mm", "open_mm"),
    [
        ("in: 16; 30: -2; ?", 762, 763),
        ("in: 16; 28..34: -2; ?", 860, 870),
        ("in: 16; ?: -2; ?", 0, 1),
        ("in: 16; 20: -2; ?: -2; ?", 508, 1700),
    ],
)
def test_the_rest_is_open_from_the_last_place_noted(line: str, known_mm: float, open_mm: float) -> None:
    assert stack_at(whip(line), known_mm, CORDS).layers[0].count.high >= 12
    with pytest.raises(StackNotKnownError, match="not noted that far"):
        stack_at(whip(line), open_mm, CORDS)


def test_a_drop_somewhere_is_carried_as_a_range_when_the_end_is_known() -> None:
    count = stack_at(whip("in: 16; ?: -2; p"), 900, CORDS).layers[0].count
    assert (count.low, count.high) == (14, 16)
