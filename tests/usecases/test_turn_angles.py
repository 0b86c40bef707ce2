"""The angle of a measured turn is that of a helix on the middle of the wall: tan(angle) = pi d / turn."""

import math

import pytest

from plaitlog.models.calibration.calibrated import prior_calibration
from plaitlog.models.calibration.prediction import Query, predict
from plaitlog.models.stack import stack_at
from plaitlog.models.whip import (
    Cord,
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
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.turn_angles import turn_angles

CORD = Cord(
    name="Ridge 4 mm", construction="cored", material="nylon", diameter_mm=4.0, linear_density_g_per_m=6.6
)
CORDS = {CORD.name: CORD}
PRIORS = prior_calibration()


def whip(*turns: TurnLength, complete: bool = True) -> Whip:
    schedule = StrandSchedule((Step(Place(0, 0), (exactly(12),)),))
    return Whip(
        label="W",
        status="finished",
        datum="handle end",
        thong_length_mm=1000,
        handle_length_mm=0,
        foundation=Foundation(diameter_mm=12, to_mm=1000),
        layers=(Layer(role="overlay", cords=(LayerCord(CORD.name),), schedule=schedule),),
        layers_complete=complete,
        turn_lengths=turns,
    )


def test_the_angle_is_that_of_a_helix_on_the_middle_of_the_wall() -> None:
    made = whip(TurnLength(at_mm=300, turn_mm=60.0))
    (found,) = turn_angles(InForce(PRIORS, None), made, CORDS)
    stack = stack_at(made, 300, CORDS)
    outer = predict(PRIORS, [Query(stack=stack)], interval="true")[0].diameter_mm
    mean = (12 + outer) / 2
    assert math.tan(math.radians(found.angle_deg)) == pytest.approx(math.pi * mean / 60, rel=1e-3)
    assert found.cover == pytest.approx(12 * 1.1 * 4 / (2 * math.pi * mean), rel=1e-3)
    # A strand of a turn is as long as the helix; 1.03 of crimp, a twentieth of stretch.
    helix = math.hypot(math.pi * mean, 60) / 60
    assert found.strand_per_thong == pytest.approx(helix * 1.03 / 1.05, rel=1e-3)
    assert "one turn in 60 mm is an angle of" in found.words(ShownUnits("mm", "mm"))


def test_a_shorter_turn_is_a_steeper_angle_and_takes_more_cord() -> None:
    made = whip(TurnLength(at_mm=200, turn_mm=50.0), TurnLength(at_mm=800, turn_mm=70.0))
    close, wide = turn_angles(InForce(PRIORS, None), made, CORDS)
    assert close.angle_deg > wide.angle_deg
    assert close.strand_per_thong > wide.strand_per_thong


def test_a_turn_on_an_unknown_stack_is_left_out() -> None:
    assert (
        turn_angles(InForce(PRIORS, None), whip(TurnLength(at_mm=300, turn_mm=60.0), complete=False), CORDS)
        == []
    )
