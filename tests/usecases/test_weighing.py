"""Expected weight of a whip that is recorded or only planned."""

from dataclasses import replace

import pytest

from plaitlog.models.calibration.weight import fit_weights
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.whip import NONE, Cord, Layer, LayerCord, Place, Span, Step, StrandSchedule, Weight, Whip
from plaitlog.service.usecases.weighing import expected, far_off, weighings

CORDS = {
    name: Cord(name=name, construction="cored", material="nylon", diameter_mm=4.0, linear_density_g_per_m=6.0)
    for name in ("Ridge 4 mm", "Fell 3 mm")
}


def planned(label: str, strands: int, cord: str = "Ridge 4 mm", grams: float | None = None) -> Whip:
    """A core of parallel strands over 1 m: the geometry is strands * 6 g, with no plait to reckon with."""
    schedule = StrandSchedule((Step(Place(0, 0), (Span(strands, strands),)),), rest="point")
    weights = () if grams is None else (Weight(grams, NONE),)
    core = Layer(role="core", cords=(LayerCord(cord),), schedule=schedule)
    return Whip(
        label=label,
        status="planned",
        datum="handle end",
        thong_length_mm=1000,
        handle_length_mm=0,
        layers=(core,),
        weights=weights,
    )


def heavy() -> list[Whip]:
    """Twelve whips, each a tenth heavier than geometry says."""
    return [planned(f"W{n}", n, grams=6.0 * n * 1.1) for n in range(6, 18)]


def test_weights_of_the_workshop_move_the_weight_of_a_planned_whip() -> None:
    fit = fit_weights(weighings(heavy(), CORDS))
    found = expected(planned("next", 20), CORDS, fit)
    assert found.weight.weight_g == pytest.approx(132, rel=0.02)
    assert found.balance_mm == pytest.approx(500)
    assert found.cord_m == {"Ridge 4 mm": pytest.approx(20)}
    assert not found.findings


def test_a_cord_never_weighed_and_a_handle_unknown_are_said_and_widen() -> None:
    fit = fit_weights(weighings(heavy(), CORDS))
    known = expected(planned("next", 20), CORDS, fit).weight
    new = expected(planned("next", 20, "Fell 3 mm"), CORDS, fit)
    handled = expected(replace(planned("next", 20), handle_length_mm=None), CORDS, fit)
    assert [x.code for x in new.findings] == ["cord-not-weighed"]
    assert [x.code for x in handled.findings] == ["handle-mass"]
    for wider in (new.weight, handled.weight):
        assert wider.high_90_g / wider.low_90_g > known.high_90_g / known.low_90_g


def test_a_weight_far_off_is_to_be_looked_at_again() -> None:
    found = expected(planned("next", 20), CORDS, fit_weights(weighings(heavy(), CORDS)))
    assert far_off(Weight(132.0), found) is None
    wrong = far_off(Weight(264.0), found)
    assert wrong is not None
    assert "look again" in wrong.remedy


def test_a_whip_with_open_layers_is_no_row_and_says_why() -> None:
    open_layers = replace(planned("open", 20, grams=130.0), layers_complete=False)
    assert weighings([open_layers], CORDS) == []
    with pytest.raises(StackNotKnownError, match="layers"):
        expected(open_layers, CORDS, fit_weights([]))
