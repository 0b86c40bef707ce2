"""What readings teach of a cord beyond its measures: a planted cord that comes out thicker is called so."""

import math

import pytest

from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.prediction import Query, prior_calibration
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Cord, exactly
from plaitlog.service.usecases.cords.alike import cords_like, learnt_of, unread
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits


def cord(name: str, diameter_mm: float = 4.0, construction: str = "cored") -> Cord:
    return Cord(
        name=name,
        material="nylon",
        construction=construction,  # type: ignore[arg-type]
        diameter_mm=diameter_mm,
        linear_density_g_per_m=0.45 * diameter_mm**2,
    )


RIDGE, WOLD, MOOR = cord("Ridge 4 mm"), cord("Wold 4 mm"), cord("Moor 4 mm")
TRUE = {RIDGE: 0.0, WOLD: 0.12, MOOR: -0.12}
"""How much thicker than by the priors each comes out in log diameter."""


@pytest.fixture(scope="module")
def in_force() -> InForce:
    """A fit of a few even whips of each cord."""
    prior = InForce(prior_calibration(), None)
    found = []
    for one, shift in TRUE.items():
        for whip in range(4):
            for overlay in (12, 16, 20):
                stack = Stack(
                    tuple(
                        StackLayer(role=role, groups=(StrandGroup(one, exactly(n)),), slot=slot)
                        for role, n, slot in (("core", 6, 1), ("overlay", overlay, 2))
                    )
                )
                (told,) = prior.predict([Query(stack=stack)])
                size = told.diameter_mm * math.exp(shift + 0.01 * (whip - 1.5))
                found.append(
                    Observation(
                        stack=stack, diameter_mm=size, whip=f"{one.name} {whip}", at_mm=10.0 * overlay
                    )
                )
    return InForce(DiameterModel().fit(found).calibration_, 1)


def test_a_cord_that_comes_out_otherwise_than_its_measures_is_called_so(in_force: InForce) -> None:
    thick, thin, plain = (learnt_of(in_force, one, 16, None) for one in (WOLD, MOOR, RIDGE))
    assert thick is not None
    assert thin is not None
    assert plain is not None
    assert thick.sure
    assert thin.sure
    assert not plain.sure
    assert thick.share > 0.05
    assert thin.share < -0.05
    assert thick.words(ShownUnits()).startswith("It comes out thicker than its measures let expect")
    assert "thinner" in thin.words(ShownUnits())


def test_nothing_is_said_of_a_cord_that_no_reading_names(in_force: InForce) -> None:
    assert learnt_of(in_force, cord("Tarn"), 16, None) is None
    named = cord(unread(in_force, RIDGE).name)
    assert unread(in_force, named).name not in in_force.calibration.cords


def test_cords_most_alike_are_nearest_in_size_and_of_the_same_construction() -> None:
    others = [cord("a", 2), cord("b", 3.8), cord("c", 4.1, "gutted"), cord("d", 6), RIDGE]
    assert [one.name for one in cords_like(RIDGE, others, at_most=4)] == ["b", "d", "a", "c"]
