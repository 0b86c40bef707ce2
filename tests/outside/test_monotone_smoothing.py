"""The falling curve nearest to readings, against published isotonic regressions."""

import numpy as np
import pytest

from plaitlog.models.handling.profile import falling


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        pytest.param(
            [8, 4, 8, 2, 2, 0, 8], [4, 4, 4, 4, 4, 4, 8],
            id="Busing 2022, Journal of Statistical Software 102 (1)",
        ),
        pytest.param(
            [5, 9, 1, 2, 5, 6, 7, 8, 3, 8], [4.25] * 4 + [5] + [6] * 4 + [8],
            id="pooled by hand",
        ),
        pytest.param([1, 0, 4, 3, 3, 5, 4, 2, 0], [0.5] * 2 + [3] * 7, id="pooled by hand, one long block"),
    ],
)  # fmt: skip
def test_rising_example_turned_upside_down(values: list[float], expected: list[float]) -> None:
    turned = -np.array(values, dtype=float)
    assert falling(turned, np.ones(len(turned))) == pytest.approx(-np.array(expected))


def test_a_heavier_reading_pulls_its_block() -> None:
    assert falling(np.array([1.0, 4.0]), np.array([1.0, 2.0])) == pytest.approx([3.0, 3.0])
