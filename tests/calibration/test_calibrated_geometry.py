"""How layers lie by a fit: as thick as it predicts, at the angles that go with it."""

import math
from dataclasses import replace

import numpy as np
import pytest

from plaitlog.models.calibration.calibrated import prior_calibration
from plaitlog.models.calibration.calibrated_geometry import calibrated_geometry
from plaitlog.models.calibration.features import FEATURES
from plaitlog.models.calibration.prediction import Query, predict
from plaitlog.models.mass import by_geometry
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Cord, exactly

CORD = Cord(
    name="Ridge 4 mm", construction="cored", material="nylon", diameter_mm=4.0, linear_density_g_per_m=6.6
)


def layer(role: str, count: int, slot: int, turn_mm: float | None = None) -> StackLayer:
    return StackLayer(
        role=role,  # type: ignore[arg-type]
        groups=(StrandGroup(CORD, exactly(count)),),
        slot=slot,
        turn_mm=turn_mm,
    )


STACKS = [
    Stack((layer("core", 6, 1), layer("belly", 12, 2), layer("overlay", 16, 3))),
    Stack((layer("overlay", 12, 3),), foundation_mm=12.0),
    Stack((StackLayer(role="core", diameter_mm=9.0), layer("overlay", 12, 3, turn_mm=60.0))),
]


def test_where_coefficients_are_zero_layers_lie_as_geometry_says() -> None:
    priors = prior_calibration()
    bare = replace(priors, coefficients=np.zeros_like(priors.coefficients))
    for found, plain in zip(calibrated_geometry(bare, STACKS), by_geometry(STACKS), strict=True):
        for one, other in zip(found, plain, strict=True):
            assert one.layer is other.layer
            assert one.outer_mm == pytest.approx(other.outer_mm, rel=1e-9)
            assert (one.cos_angle is None) == (other.cos_angle is None)
            if one.cos_angle is not None:
                assert one.cos_angle == pytest.approx(other.cos_angle, rel=1e-9)


def test_layers_are_as_thick_as_predicted_and_angles_go_with_the_diameters() -> None:
    """A fit whose plaits come out thicker: the strands lie less close, so they run steeper around."""
    priors = prior_calibration()
    coefficients = priors.coefficients.copy()
    coefficients[FEATURES.index("plait")] += 0.3
    thick = replace(priors, coefficients=coefficients)
    told = predict(thick, [Query(stack=stack) for stack in STACKS], interval="true")
    for found, plain, one in zip(
        calibrated_geometry(thick, STACKS), calibrated_geometry(priors, STACKS), told, strict=True
    ):
        assert found[-1].outer_mm == pytest.approx(one.diameter_mm, rel=1e-6)
        assert found[-1].cos_angle is not None
        assert plain[-1].cos_angle is not None
        assert found[-1].cos_angle < plain[-1].cos_angle
    turned = calibrated_geometry(thick, STACKS)[2][-1]
    mean = (turned.inner_mm + turned.outer_mm) / 2
    assert turned.cos_angle == pytest.approx(1 / math.sqrt(1 + (math.pi * mean / 60) ** 2))
