"""Expected weight, balance and cord use of a whip that is recorded or only planned."""

from dataclasses import replace

import pytest

from plaitlog.models.calibration.calibrated import prior_calibration
from plaitlog.models.errors import ArtifactError, StackNotKnownError
from plaitlog.models.whip import (
    NONE,
    Balance,
    Cord,
    CordUse,
    Layer,
    LayerCord,
    Place,
    Span,
    Step,
    StrandSchedule,
    Weight,
    Whip,
)
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.weighing import (
    Expected,
    Weighed,
    expected,
    expected_or_none,
    far_off,
    learn_weighing,
    weighing_of,
)

CORDS = {
    name: Cord(name=name, construction="cored", material="nylon", diameter_mm=4.0, linear_density_g_per_m=6.0)
    for name in ("Ridge 4 mm", "Fell 3 mm")
}
PRIORS = prior_calibration()
HEEL = 10.0


def whip(label: str, strands: int, cord: str = "Ridge 4 mm", **facts: object) -> Whip:
    """A core of parallel strands over 1 m: the geometry is strands * 6 g, with no plait to reckon with."""
    schedule = StrandSchedule((Step(Place(0, 0), (Span(strands, strands),)),), rest="point")
    core = Layer(role="core", cords=(LayerCord(cord),), schedule=schedule)
    known: dict[str, object] = {"status": "finished", "handle_length_mm": 0, **facts}
    return Whip(label=label, datum="handle end", thong_length_mm=1000, layers=(core,), **known)  # type: ignore[arg-type]


def heavy() -> list[Whip]:
    """Twelve whips whose strands weigh a tenth more than geometry says, balance and cord noted on some."""
    return [
        whip(
            f"W{n}",
            n,
            weights=(Weight(6.0 * n * 1.1 + HEEL, NONE),),
            balance=Balance(480.0, "butt") if n % 2 else None,
            cord_used=(CordUse("Ridge 4 mm", n * 1.5),) if n % 3 else (),
        )
        for n in range(6, 18)
    ]


def told(asked: Whip, learnt_from: list[Whip]) -> Expected:
    weighing = learn_weighing(Weighed(tuple(learnt_from), CORDS), PRIORS).to_dict()
    return expected(InForce(PRIORS, 1, (), weighing), asked, CORDS)


def test_whips_that_were_weighed_move_the_weight_of_a_planned_one() -> None:
    found = told(whip("next", 20, status="planned"), heavy())
    assert found.weight.value == pytest.approx(132 + HEEL, rel=0.02)
    assert found.weighed_whips == 12
    assert not found.findings


def test_balance_and_cord_use_are_learnt_and_have_intervals() -> None:
    """Reckoned: 120 g at 500 mm and a heel knot of 10 g at 0; 20 m of strands and 20 tails of 0.25 m."""
    found = told(whip("next", 20, status="planned"), heavy())
    assert found.balance is not None
    unlearnt = told(whip("next", 20, status="planned"), [])
    assert unlearnt.balance is not None
    assert unlearnt.balance.value == pytest.approx(120 * 500 / 130)
    assert found.balance.value > unlearnt.balance.value  # noted at 480, reckoned between 430 and 460
    use, plain = found.cord_use["Ridge 4 mm"], unlearnt.cord_use["Ridge 4 mm"]
    assert plain.value == pytest.approx(25.0)
    assert use.value == pytest.approx(30.0, rel=0.02)
    for one, before in ((found.balance, unlearnt.balance), (use, plain)):
        assert one.low_90 < one.value < one.high_90
        assert one.high_90 / one.low_90 < before.high_90 / before.low_90


def test_a_cord_never_weighed_and_a_handle_unknown_are_said_and_widen() -> None:
    known = told(whip("next", 20), heavy()).weight
    new = told(whip("next", 20, "Fell 3 mm"), heavy())
    handled = told(whip("next", 20, handle_length_mm=None), heavy())
    assert [x.code for x in new.findings] == ["cord-not-weighed"]
    assert [x.code for x in handled.findings] == ["handle-mass"]
    assert handled.balance is None
    assert handled.cord_use == {}
    for wider in (new.weight, handled.weight):
        assert wider.high_90 / wider.low_90 > known.high_90 / known.low_90


def test_a_weight_far_off_is_to_be_looked_at_again() -> None:
    """Each noted weight is held against what it should be with the parts that were on the scale."""
    noted = (Weight(142.0, NONE), Weight(154.0, ("fall", "cracker")), Weight(284.0, NONE))
    found = told(whip("next", 20, weights=noted), heavy())
    wrong = [far_off(weight, what) for weight, what in found.noted]
    assert wrong[:2] == [None, None]
    assert wrong[2] is not None
    assert "look again" in wrong[2].remedy


def test_a_weight_on_the_bench_narrows_what_is_to_come() -> None:
    def two(status: str, grams: float) -> Whip:
        made = whip("next", 20, status=status, weights=(Weight(grams, after_layer=1),))
        return replace(made, layers=(*made.layers, replace(made.layers[0], role="core")))

    finished, bench = (told(two(status, 150.0), heavy()).weight for status in ("finished", "on the bench"))
    assert bench.value > finished.value
    assert bench.high_90 / bench.low_90 < finished.high_90 / finished.low_90


def test_a_whip_with_open_layers_is_no_row_and_says_why() -> None:
    open_layers = whip("open", 20, layers_complete=False, weights=(Weight(130.0, NONE),))
    assert learn_weighing(Weighed((open_layers,), CORDS), PRIORS).calibrations.weight.whips == 0
    with pytest.raises(StackNotKnownError, match="layers"):
        told(open_layers, [])
    assert expected_or_none(InForce(PRIORS, None), open_layers, CORDS) is None


def test_what_a_fit_keeps_comes_back_and_what_is_broken_is_refused() -> None:
    learnt = learn_weighing(Weighed(tuple(heavy()), CORDS), PRIORS)
    again = weighing_of(learnt.to_dict())
    assert again.evidence == learnt.evidence
    assert set(again.evidence) == {"weight", "balance", "cord_use"}
    assert weighing_of(None).calibrations.weight.whips == 0
    with pytest.raises(ArtifactError, match="weights cannot be read"):
        weighing_of({"calibrations": {}, "evidence": {}})
