"""The rivals do what their names say."""

import numpy as np
import pytest

from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.rivals import (
    Boosting,
    GeometryAlone,
    LayerColumns,
    OuterCordRatio,
    all_rivals,
    outer_cord,
)
from plaitlog.models.geometry import geometric_diameter
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import exactly
from tests.calibration.plain_whips import cord, overlay, reading

RIDGE, FELL, TARN = cord("Ridge 4 mm"), cord("Fell 3 mm", 3.0), cord("Tarn 2 mm", 2.0)


def bulky(whip: str, stack: Stack, ratio: float) -> Observation:
    return reading(whip, stack, geometric_diameter(stack).diameter_mm * ratio)


def test_geometry_alone_gives_the_geometric_diameter_and_learns_its_own_error() -> None:
    taught = [bulky("a", overlay(8, RIDGE), 1.1), bulky("b", overlay(12, FELL), 1.1)]
    log_d, sd = GeometryAlone().fit(taught).predict(taught)
    wanted = [geometric_diameter(observation.stack).diameter_mm for observation in taught]
    assert np.exp(log_d) == pytest.approx(wanted)
    assert sd == pytest.approx(np.log(1.1))


def test_the_outer_cord_multiplies_geometry_by_its_mean_ratio() -> None:
    taught = [
        bulky("a", overlay(8, RIDGE), 1.1),
        bulky("b", overlay(12, RIDGE), 1.3),
        bulky("c", overlay(8, FELL), 0.9),
    ]
    asked = [bulky("d", overlay(16, cord_), 1.0) for cord_ in (RIDGE, FELL, TARN)]
    log_d, _ = OuterCordRatio().fit(taught).predict(asked)
    ratio = log_d - np.log([observation.diameter_mm for observation in asked])
    known = np.log([1.1, 1.3, 0.9])
    assert ratio == pytest.approx([known[:2].mean(), known[2], known.mean()])


def test_the_outer_cord_is_the_commonest_of_the_outermost_strands() -> None:
    inner = StackLayer(role="belly", groups=(StrandGroup(TARN, exactly(30)),))
    outer = StackLayer(role="overlay", groups=(StrandGroup(RIDGE, exactly(4)), StrandGroup(FELL, exactly(8))))
    tape = StackLayer(role="binding", thickness_mm=0.2)
    assert outer_cord(Stack((inner, outer, tape))) == "Fell 3 mm"
    assert outer_cord(Stack((tape,), foundation_mm=8.0)) == ""


def test_boosting_finds_what_no_mean_ratio_can() -> None:
    ratios = {6: 1.2, 8: 1.0, 12: 0.9, 16: 1.1}
    taught = [bulky(f"w{k}", overlay(n, RIDGE), ratio) for k in range(15) for n, ratio in ratios.items()]
    errors = {}
    for rival in all_rivals():
        log_d, _ = rival.fit(taught).predict(taught[:4])
        errors[rival.name] = np.abs(log_d - np.log([o.diameter_mm for o in taught[:4]])).max()
    assert errors["gradient boosting"] < 0.02 < 0.1 < errors["mean ratio of the outer cord"]


def test_boosting_of_the_same_readings_is_the_same() -> None:
    rng = np.random.default_rng(0)
    taught = [bulky(f"w{k // 4}", overlay(8, RIDGE), float(np.exp(rng.normal(0, 0.1)))) for k in range(60)]
    first, second = (Boosting(5).fit(taught).predict(taught)[0] for _ in range(2))
    assert np.array_equal(first, second)


@pytest.mark.parametrize("count", [0, 1])
def test_without_whips_to_compare_every_rival_falls_back_on_geometry(count: int) -> None:
    taught = [bulky("a", overlay(8, RIDGE), 1.0)] * count
    asked = [bulky("b", overlay(8, FELL), 1.0)]
    for rival in all_rivals():
        log_d, sd = rival.fit(taught).predict(asked)
        assert np.exp(log_d) == pytest.approx([asked[0].diameter_mm])
        assert np.all(sd > 0)


def test_columns_tell_cords_and_counts_apart_and_stay_the_same_for_new_cords() -> None:
    taught = [bulky("a", overlay(8, RIDGE), 1.0), bulky("b", overlay(12, FELL), 1.0)]
    columns = LayerColumns().fit(taught)
    table = columns.transform([*taught, bulky("c", overlay(8, TARN), 1.0)])
    assert np.isfinite(table).all()
    assert len({tuple(row) for row in table.tolist()}) == 3
    assert table.shape[1] == columns.transform(taught[:1]).shape[1]
