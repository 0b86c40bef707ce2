"""Pieces to cut against strands summed along helices as polylines, and what holds of every cut list."""

import math
from itertools import pairwise

import numpy as np
import pytest

from plaitlog.models.planning.cut_list import TAIL_MM, cut_list, totals
from plaitlog.models.whip import (
    Fate,
    Foundation,
    Layer,
    LayerCord,
    Place,
    Step,
    StrandSchedule,
    TurnLength,
    Whip,
    exactly,
)
from tests.planning.by_geometry import CORDS, THICK, THIN

CRIMP, STRETCH = 1.03, 0.05


def layer(role: str, cord: str, fate: Fate | None, *steps: tuple[float, int]) -> Layer:
    schedule = StrandSchedule(tuple(Step(Place(at, at), (exactly(count),)) for at, count in steps))
    return Layer(role=role, cords=(LayerCord(cord),), schedule=schedule, fate=fate)  # type: ignore[arg-type]


def whip(*layers: Layer, **facts: object) -> Whip:
    known: dict[str, object] = {"handle_length_mm": 0, **facts}
    return Whip(
        label="next", status="planned", datum="handle end", thong_length_mm=1000, layers=layers, **known
    )  # type: ignore[arg-type]


def helix_mm(mean_mm: float, turn_mm: float, length_mm: float) -> float:
    """Length of a helix of that turn on that diameter, by a polyline of a hundred thousand parts."""
    along = np.linspace(0, length_mm, 100_001)
    around = 2 * math.pi * along / turn_mm
    path = np.column_stack([mean_mm / 2 * np.cos(around), mean_mm / 2 * np.sin(around), along])
    return float(np.sum(np.linalg.norm(np.diff(path, axis=0), axis=1)))


def test_a_strand_is_as_long_as_its_helix_with_crimp_less_stretch_and_a_tail() -> None:
    """Twelve strands over a rod of 12 mm at a turn of 60 mm; four dropped at 400 mm with a tuck of 80 mm."""
    plait = layer("overlay", THIN.name, Fate("tuck", 80.0), (0, 12), (400, 8))
    turns = tuple(TurnLength(at_mm=at, turn_mm=60.0) for at in (0.0, 500.0, 1000.0))
    made = whip(plait, foundation=Foundation(diameter_mm=12, to_mm=1000), turn_lengths=turns)
    # Eight strands leave a thinner wall than twelve: both outer diameters from the same closed form.
    outer = {}
    for count in (12, 8):
        size = 16.0
        for _ in range(100):
            cosine = 1 / math.sqrt(1 + (math.pi * (12 + size) / 2 / 60) ** 2)
            size = math.sqrt(144 + 4 / math.pi * count * 2.75 / 1.14 / 0.58 / cosine)
        outer[count] = size
    # Over a tuck the four strands inside lift the plait; its first 80 mm are left to the program.
    first = helix_mm((12 + outer[12]) / 2, 60, 400)
    rest = helix_mm((12 + outer[8]) / 2, 60, 520)
    pieces = cut_list(made, CORDS)
    assert sum(piece.pieces for piece in pieces) == 6
    longest = max(piece.length_mm for piece in pieces) / 2 - TAIL_MM
    reckoned = (first + rest) * CRIMP / (1 + STRETCH)
    over_tuck = longest - reckoned
    assert 80 * CRIMP / (1 + STRETCH) < over_tuck < 80 * 1.35 + 20
    shortest = min(piece.length_mm for piece in pieces) / 2 - TAIL_MM
    assert first * CRIMP / (1 + STRETCH) + 80 < shortest < first * CRIMP / (1 + STRETCH) + 80 * 1.35 + 10


def test_parallel_strands_of_a_core_are_as_long_as_they_run() -> None:
    """Five cut out singly: the longest stands alone, the others are two of one piece, middled."""
    core = layer("core", THICK.name, Fate("cut"), (0, 5), (300, 4), (400, 3), (500, 2), (600, 1), (700, 0))
    made = whip(core, layer("overlay", THIN.name, Fate("cut"), (0, 12)))
    pieces = [piece for piece in cut_list(made, CORDS) if piece.slot == 1]
    assert [(one.pieces, one.length_mm, one.middle_mm) for one in pieces] == [
        (1, 700 + TAIL_MM, None),
        (1, 600 + 500 + 2 * TAIL_MM, 600 + TAIL_MM),
        (1, 400 + 300 + 2 * TAIL_MM, 400 + TAIL_MM),
    ]


def test_over_a_rod_strands_are_longer_by_the_handle() -> None:
    plait = layer("overlay", THIN.name, Fate("cut"), (0, 12))
    rod = Foundation(diameter_mm=10, to_mm=0, material="steel")
    bare = cut_list(whip(plait, foundation=rod), CORDS)
    over = cut_list(whip(plait, foundation=rod, handle_length_mm=200), CORDS)
    longer = (over[0].length_mm - bare[0].length_mm) / 2
    assert 200 < longer < 400


def test_pieces_are_rounded_up_and_as_many_as_the_strands() -> None:
    made = whip(
        layer("belly", THICK.name, Fate("run"), (0, 8), (300, 6), (600, 0)),
        layer("overlay", THIN.name, Fate("tuck", 80.0), (0, 16), (500, 12), (800, 8)),
    )
    pieces = cut_list(made, CORDS, safe={THIN.name: 1.1})
    assert all(piece.length_mm % 10 == 0 for piece in pieces)
    assert sum(piece.pieces * len(piece.ends_mm) for piece in pieces) == 24
    # Strands that run on inside end at the point.
    assert all(end == 1000 for piece in pieces if piece.cord == THICK.name for end in piece.ends_mm)
    for slot in (1, 2):
        lengths = [piece.length_mm for piece in pieces if piece.slot == slot]
        assert all(before >= after for before, after in pairwise(lengths))


def test_totals_say_what_the_stock_lacks_and_what_it_costs() -> None:
    made = whip(layer("core", THICK.name, Fate("cut"), (0, 2)))
    (total,) = totals(cut_list(made, CORDS), CORDS, {THICK.name: 1.0})
    assert total.metres == pytest.approx(2.6)
    assert total.grams == pytest.approx(2.6 * 7.2)
    assert total.lacks_m == pytest.approx(1.6)
    assert total.price == pytest.approx(0.78)
    (unknown,) = totals(cut_list(made, CORDS), CORDS)
    assert unknown.lacks_m is None
