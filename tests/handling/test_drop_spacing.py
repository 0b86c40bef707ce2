"""How far apart strands are dropped, and whether the drops spread or close up."""

import math

import pytest

from plaitlog.models.handling.drop_spacing import drops_of, spacing_trend
from plaitlog.models.whip import Layer, LayerCord, Place, Span, Step, StrandSchedule, Whip


def layer(role: str, steps: list[tuple[float, float]], width: float = 0.0) -> Layer:
    made = tuple(
        Step(Place(at - width / 2, at + width / 2, "at" if width == 0 else "between"), (Span(n, n),))
        for at, n in steps
    )
    return Layer(role=role, cords=(LayerCord("Ridge 4 mm"),), schedule=StrandSchedule(made))  # type: ignore[arg-type]


def whip(*layers: Layer) -> Whip:
    return Whip(label="W", thong_length_mm=2000, layers=layers)


def falls(first: float, gaps: list[float], start: int) -> list[tuple[float, float]]:
    """A layer that loses one strand at ``first`` and after each gap."""
    steps, at, count = [(0.0, float(start))], first, start
    for gap in [0.0, *gaps]:
        at, count = at + gap, count - 1
        steps.append((at, float(count)))
    return steps


def test_evenly_spaced_drops_have_no_trend() -> None:
    found = drops_of(whip(layer("core", falls(200, [60] * 5, 6))))
    assert found[0].at_mm == (200, 260, 320, 380, 440, 500)
    assert found[0].end_mm == 500
    assert found[0].spacing is not None
    assert found[0].spacing.value == pytest.approx(60)
    trend = spacing_trend(found)
    assert trend is not None
    assert trend.value == pytest.approx(0.0, abs=1e-12)


def test_gaps_that_grow_by_a_constant_factor_have_that_trend() -> None:
    """Over k gaps in order the logarithm grows by (k - 1) log q; from middle to middle of k equal parts that
    is a slope of k log q over the whole."""
    gaps = [40 * 1.2**i for i in range(6)]
    trend = spacing_trend(drops_of(whip(layer("core", falls(100, gaps, 8)))))
    assert trend is not None
    assert trend.value == pytest.approx(6 * math.log(1.2))
    closing = spacing_trend(drops_of(whip(layer("core", falls(100, gaps[::-1], 8)))))
    assert closing is not None
    assert closing.value == pytest.approx(-trend.value)


def test_drops_of_an_outer_layer_over_one_that_still_runs_do_not_govern() -> None:
    core = layer("core", falls(200, [100] * 5, 6))  # ends at 700
    tail = [(800.0, 12.0), (900.0, 10.0), (1000.0, 8.0)]
    quiet = spacing_trend(drops_of(whip(core, layer("overlay", [(0, 14), *tail]))))
    busy = spacing_trend(
        drops_of(whip(core, layer("overlay", [(0, 22), (150, 20), (160, 18), (690, 14), *tail])))
    )
    assert quiet is not None
    assert busy is not None
    assert busy.value == pytest.approx(quiet.value)


def test_a_place_between_two_bounds_makes_the_trend_less_sure() -> None:
    exact = spacing_trend(drops_of(whip(layer("core", falls(200, [60] * 5, 6)))))
    vague = spacing_trend(drops_of(whip(layer("core", falls(200, [60] * 5, 6), width=40))))
    assert exact is not None
    assert vague is not None
    assert vague.sd > 3 * exact.sd


def test_two_gaps_are_too_few_for_a_trend_and_one_drop_for_a_spacing() -> None:
    assert spacing_trend(drops_of(whip(layer("core", falls(200, [60, 90], 4))))) is None
    assert drops_of(whip(layer("overlay", [(0, 12), (800, 8)])))[0].spacing is None
    assert drops_of(whip()) == ()
