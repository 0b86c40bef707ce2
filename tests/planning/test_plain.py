"""Evenly spaced drops: a straight line in the diameter squared, and the counts of common practice."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plaitlog.models.planning.asked import Asked, AskedLayer, Target
from plaitlog.models.planning.plain import even_spacing_mm, evenly_dropped, places_every, plain_layers
from plaitlog.models.stack import stack_at
from plaitlog.models.taper import even_fullness
from plaitlog.models.whip import Fate, Layer, LayerCord, Place, Step, StrandSchedule, Whip, exactly
from tests.planning.by_geometry import CORDS, THICK, THIN, predict

INCH = 25.4


def test_strands_of_one_size_dropped_evenly_lose_the_same_section_everywhere() -> None:
    """14 to 5.5 mm: 0.573 of the difference is left on average, the mean of a root; many fine strands."""
    strands, left = 28_000, round(28_000 * (5.5 / 14) ** 2)
    drops = evenly_dropped([(1, strands, left, 1)], 0.0, 1000.0, 0.01)
    at = np.linspace(0, 1000, 4001)
    running = strands - np.searchsorted([drop.at_mm for drop in drops], at, side="right")
    diameter = 14 * np.sqrt(running / strands)
    straight = 14**2 + (5.5**2 - 14**2) * at / 1000
    assert diameter**2 == pytest.approx(straight, abs=0.02)
    fullness = float(np.mean((diameter - 5.5) / (14 - 5.5)))
    assert fullness == pytest.approx(0.573, abs=5e-4)
    assert even_fullness(14, 5.5) == pytest.approx(0.573, abs=5e-4)


@pytest.mark.parametrize(
    ("end_mm", "every_mm", "strands"),
    [(33 * INCH, 2.5 * INCH, 13), (63 * INCH, 5 * INCH, 12)],
    ids=["5 1/2 ft: core to 33 in, every 2 1/2 in", "10 ft: core to 5 ft 3 in, every 5 in"],
)
def test_cores_of_common_practice_lose_twelve_or_thirteen_strands(
    end_mm: float, every_mm: float, strands: int
) -> None:
    """Counted from the handle end of the thong, the datum of both (common practice, no source).

    Four cords doubled over are eight strands, and a few extra make a dozen.
    """
    places = places_every(every_mm, end_mm)
    assert len(places) == strands
    assert places[0] == every_mm
    assert end_mm - every_mm < places[-1] <= end_mm
    assert even_spacing_mm(places[-1], strands) == pytest.approx(every_mm)
    drops = evenly_dropped([(1, strands, 0, 1)], 0.0, places[-1], 0.5 * INCH)
    assert [drop.at_mm for drop in drops] == pytest.approx(places)
    assert drops[-1].after == 0


@given(
    st.integers(0, 12),
    st.integers(0, 8),
    st.integers(2, 10),
    st.floats(0, 400),
    st.floats(500, 3000),
    st.sampled_from([5.0, 10.0, 12.7]),
)
def test_the_innermost_still_running_drops_first_and_distances_are_even(
    core: int, belly: int, overlay: int, start: float, end: float, grid: float
) -> None:
    layers = [(1, core, 0, 1), (2, 2 * belly, 0, 2), (3, 2 * overlay, 4, 2)]
    drops = evenly_dropped(layers, start, end, grid)
    assert len(drops) == core + belly + overlay - 2
    assert [drop.slot for drop in drops] == [1] * core + [2] * belly + [3] * (overlay - 2)
    if drops:
        exact = np.linspace(start, end, len(drops) + 1)[1:]
        assert np.abs([drop.at_mm for drop in drops] - exact).max() <= grid / 2 + 1e-6
        off_grid = np.array([drop.at_mm for drop in drops]) / grid
        assert off_grid == pytest.approx(np.round(off_grid))


def test_planned_layers_keep_their_strands_at_both_ends() -> None:
    def layer(role: str, cord: str, *steps: tuple[float, int]) -> Layer:
        schedule = StrandSchedule(tuple(Step(Place(at, at), (exactly(n),)) for at, n in steps))
        return Layer(role=role, cords=(LayerCord(cord),), schedule=schedule)  # type: ignore[arg-type]

    binding = Layer(role="binding", thickness_mm=0.2)
    planned = (
        layer("core", THICK.name, (0, 3), (120, 2), (150, 1), (300, 0)),
        binding,
        layer("overlay", THIN.name, (0, 12), (500, 10), (900, 8)),
    )
    target = Target(diameter_mm=np.full(101, 9.0), held_to_mm=100.0, held_from_mm=850.0)
    questions = (AskedLayer(role="core", cord=THICK), binding, AskedLayer(role="overlay", cord=THIN))
    asked = Asked(length_mm=1000.0, layers=questions, target=target, cords=CORDS)
    core, same, overlay = plain_layers(asked, planned)
    assert same is binding
    assert core.schedule is not None
    assert overlay.schedule is not None
    assert [(x.place.mid_mm, x.total.mid) for x in core.schedule.steps] == [
        (0, 3),
        (250, 2),
        (400, 1),
        (550, 0),
    ]
    assert [(x.place.mid_mm, x.total.mid) for x in overlay.schedule.steps] == [(0, 12), (700, 10), (850, 8)]


def test_shorter_inner_layers_make_a_taper_earlier_and_longer_ones_later() -> None:
    """Common practice, no source: core and belly end a quarter sooner or later than in proportion."""
    found = [_fullness(core_to, belly_to) for core_to, belly_to in ((400, 700), (550, 950), (700, 1200))]
    assert found[0] < found[1] - 0.02
    assert found[1] < found[2] - 0.02


def _fullness(core_to_mm: float, belly_to_mm: float) -> float:
    """Of 1500 mm whose core, belly and overlay thin one after another, each evenly, by geometry alone."""
    parts = [
        ("core", THICK, 6, 0, 1, 0.0, core_to_mm),
        ("belly", THIN, 12, 0, 2, core_to_mm, belly_to_mm),
        ("overlay", THIN, 18, 6, 2, belly_to_mm, 1500.0),
    ]
    layers = []
    for slot, (role, cord, start, end, step, from_mm, to_mm) in enumerate(parts, start=1):
        drops = evenly_dropped([(slot, start, end, step)], from_mm, to_mm, 10.0)
        places = [(0.0, start), *((drop.at_mm, drop.after) for drop in drops)]
        steps = tuple(Step(Place(at, at), (exactly(count),)) for at, count in places)
        layers.append(
            Layer(
                role=role,  # type: ignore[arg-type]
                cords=(LayerCord(cord.name),),
                schedule=StrandSchedule(steps),
                fate=Fate("cut"),
            )
        )
    whip = Whip(
        label="x",
        datum="handle end",
        thong_length_mm=1500.0,
        handle_length_mm=0.0,
        foundation="none",
        layers=tuple(layers),
        layers_complete=True,
    )
    sizes = predict([stack_at(whip, at, CORDS) for at in np.arange(5.0, 1500.0, 10.0)])
    diameter = np.exp(sizes.log_mm)
    return float(np.mean((diameter - diameter[-1]) / (diameter[0] - diameter[-1])))
