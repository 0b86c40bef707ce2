"""Flat widths that nobody measured: their column, and what a measurement takes off an interval."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.design import Columns, Designer
from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.features import FEATURES
from plaitlog.models.calibration.observations import Query
from plaitlog.models.calibration.packed import pack
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.prediction import predict
from plaitlog.models.calibration.smooth import smooth_at
from plaitlog.models.calibration.terms import KeyedTerms, layer_terms
from plaitlog.models.geometry import COS_LIMITS
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Cord, exactly
from plaitlog.service.usecases.cords.worth import filled_in
from tests.benchmarks.observe import observed
from tests.benchmarks.workshops import TUNING
from tests.benchmarks.workshops.habits import PLAIN
from tests.benchmarks.workshops.workshop import Workshop, open_workshop
from tests.calibration.laid_whips import laid

UNRULED = Cord(
    name="Unruled", material="nylon", construction="cored", diameter_mm=3.6, linear_density_g_per_m=5.4
)
PRESSED = replace(UNRULED, name="Pressed", pressed_mm=1.9)
RULED = replace(UNRULED, name="Ruled", flat_width_mm=4.1, pressed_mm=2.0)
GROUPS = st.lists(
    st.builds(
        lambda cord, count, gutted: StrandGroup(cord, exactly(count), gutted),
        st.sampled_from([UNRULED, PRESSED, RULED]),
        st.integers(2, 20),
        st.booleans(),
    ),
    min_size=1,
    max_size=2,
)
LAYERS = st.lists(
    st.builds(
        lambda role, groups, turn: StackLayer(
            role=role, groups=tuple(groups), turn_mm=turn if role == "overlay" else None
        ),
        st.sampled_from(["core", "belly", "overlay"]),
        GROUPS,
        st.sampled_from([None, 60.0]),
    ),
    min_size=1,
    max_size=3,
)


def designer_of(stacks: Sequence[Stack], rng: np.random.Generator) -> tuple[Designer, KeyedTerms]:
    parameters = Parameters()
    packed = pack(stacks, parameters.geometry)
    terms = layer_terms(packed)
    columns = Columns(terms.occurring(), smooth_at(rng.normal(0, 1, (4, 6))))
    return Designer(packed, terms, columns, parameters), terms


@settings(deadline=None, max_examples=60)
@given(LAYERS, st.integers(0, 2**32 - 1))
def test_its_column_is_the_derivative_of_log_diameter(layers: list[StackLayer], seed: int) -> None:
    rng = np.random.default_rng(seed)
    designer, _ = designer_of([Stack(tuple(layers))], rng)
    names = designer.columns.names
    coefficients = rng.normal(0, 0.03, len(names))
    coefficients[FEATURES.index("softness")] = -0.6
    coefficients[FEATURES.index("cover")] = 0.3

    def at(moved: np.ndarray) -> np.ndarray:
        return np.log(designer.at(moved, rounds=60).resolved.diameter)

    design = designer.at(coefficients, rounds=60)
    assert design.working + design.rows @ coefficients == pytest.approx(at(coefficients), abs=1e-9)
    cover = designer.packed.width / (2 * np.pi * design.resolved.mean)
    cosine = np.cos(np.radians(40.0)) ** 0.5 * cover**0.5
    if any((np.abs(cosine - limit) < 1e-3).any() for limit in COS_LIMITS):
        return  # At a clipped angle the law has a corner: a difference across it is no derivative.
    step = 1e-5
    for place, name in enumerate(names):
        if name.startswith("unmeasured_width:"):
            move = step * (np.arange(len(names)) == place)
            slope = (at(coefficients + move) - at(coefficients - move)) / (2 * step)
            assert design.rows[:, place] == pytest.approx(slope, abs=1e-5)


def test_a_measured_width_has_no_column_and_a_cord_gutted_in_the_plait_has_one() -> None:
    rng = np.random.default_rng(0)
    for gutted in (False, True):
        layer = StackLayer(role="overlay", groups=(StrandGroup(RULED, exactly(12), gutted),))
        _, terms = designer_of([Stack((layer,))], rng)
        assert ("unmeasured_width:Ruled" in terms.occurring()) == gutted


@pytest.fixture(scope="module", params=[False, True], ids=["cords as kept", "cords measured"])
def workshop_and_fit(request: pytest.FixtureRequest) -> tuple[Workshop, Calibration]:
    """Twenty whips; the ruled workshop is the same one, with its new cords measured too."""
    mechanics = TUNING[1]
    ruled = open_workshop(mechanics, 0, replace(PLAIN, ruler=True))
    workshop = ruled if request.param else open_workshop(mechanics, 0)
    return ruled, DiameterModel().fit(observed(workshop, workshop.make(20, "recorded"))).calibration_


def half_width(calibration: Calibration, cord: Cord) -> float:
    """Half of the 90 % interval of an overlay of this cord over a core of it, on the log scale."""
    stack = Stack((laid("core", cord, 4, 1), laid("overlay", cord, 12, 2)))
    (told,) = predict(calibration, [Query(stack=stack)])
    return float(np.log(told.high_90_mm / told.low_90_mm)) / 2


@pytest.mark.parametrize(
    ("key", "least"), [("linear_density_g_per_m", 0.3), ("flat_width_mm", 0.015), ("pressed_mm", 0.05)]
)
def test_each_measurement_narrows_the_interval_of_a_new_cord(
    workshop_and_fit: tuple[Workshop, Calibration], key: str, least: float
) -> None:
    """Measured and found as was supposed without, so that only the certainty differs."""
    ruled, calibration = workshop_and_fit
    for name in ruled.never_recorded:
        supposed = replace(ruled.catalogue[name], flat_width_mm=None, pressed_mm=None)
        supposed = filled_in(filled_in(supposed, "flat_width_mm"), "pressed_mm")
        without = replace(supposed, **{key: None})
        narrower = 1 - half_width(calibration, supposed) / half_width(calibration, without)
        assert narrower > least, name
