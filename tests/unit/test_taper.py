"""Shapes of a thong against integrals and closed forms."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plaitlog.models.taper import Shape, even_fullness, fullness_of, left, straight_between


def fullness(shape: Shape) -> float:
    """By summing over the part that tapers."""
    start, end = shape.parallel_thick_mm, shape.length_mm - shape.parallel_point_mm
    at = start + (np.arange(200_000) + 0.5) / 200_000 * (end - start)
    share = (shape.diameter_mm(at) - shape.point_mm) / (shape.thick_mm - shape.point_mm)
    return float(share.mean())


@pytest.mark.parametrize(("thick", "point", "told"), [(14, 5.5, 0.573), (22, 5, 0.605)])
def test_evenly_spaced_drops_have_the_fullness_of_a_straight_line_in_area(
    thick: float, point: float, told: float
) -> None:
    """The integral of sqrt(1 + (r^2 - 1) u) over u, less r, over 1 - r, is (2 + r) / (3 (1 + r))."""
    shape = Shape(
        length_mm=1800, thick_mm=thick, point_mm=point, parallel_thick_mm=305, parallel_point_mm=180
    )
    assert even_fullness(thick, point) == pytest.approx(told, abs=5e-4)
    assert fullness(shape) == pytest.approx(even_fullness(thick, point), abs=1e-6)


@given(wanted=st.floats(0.1, 0.9))
def test_a_wanted_fullness_is_met_and_the_shape_falls(wanted: float) -> None:
    shape = Shape(length_mm=1500, thick_mm=16, point_mm=6, fullness=wanted)
    assert fullness(shape) == pytest.approx(wanted, abs=1e-4)
    at = np.linspace(0, 1500, 200)
    sizes = shape.diameter_mm(at)
    assert sizes[0] == 16
    assert sizes[-1] == pytest.approx(6)
    assert (np.diff(sizes) <= 0).all()


def test_half_full_is_a_straight_line_from_both_sides() -> None:
    u = np.linspace(0, 1, 11)
    assert left(u, 0.5) == pytest.approx(1 - u)
    assert left(u, 0.5 + 1e-9) == pytest.approx(1 - u, abs=1e-7)


def test_words_lie_in_their_order() -> None:
    early, late = fullness_of("early", 14, 5.5), fullness_of("late", 14, 5.5)
    assert early is not None
    assert late is not None
    assert fullness_of("even", 14, 5.5) is None
    # By the words for measured shapes even runs from 0.45 to that of evenly spaced drops plus 0.03.
    assert early < 0.45 < even_fullness(14, 5.5) + 0.03 < late


def test_wanted_stations_are_joined_by_straight_lines() -> None:
    found = straight_between([0, 100, 300], [14, 12, 6], [-10, 50, 200, 400])
    assert found == pytest.approx([14, 13, 9, 6])
    with pytest.raises(ValueError, match="rise"):
        straight_between([0, 0], [14, 12], [0])


@pytest.mark.parametrize(
    "facts", [{"parallel_thick_mm": 900, "parallel_point_mm": 900}, {"fullness": 0.95}, {"thick_mm": 0}]
)
def test_shapes_that_cannot_be_are_refused(facts: dict[str, float]) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 - each says its own
        Shape(**{"length_mm": 1800, "thick_mm": 14, "point_mm": 5.5, **facts})
