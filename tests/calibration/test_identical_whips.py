"""Whips alike to a tenth of a millimetre: predicted as they were read, no surer than calipers are."""

import pytest

from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.observations import Observation, Query
from plaitlog.models.calibration.prediction import predict
from plaitlog.models.geometry import geometric_diameter
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Cord, exactly

CORD = Cord(
    name="Ridge 4 mm", construction="cored", material="nylon", diameter_mm=4.0, linear_density_g_per_m=6.6
)


def stack(core: int, overlay: int) -> Stack:
    return Stack(
        (
            StackLayer(role="core", groups=(StrandGroup(CORD, exactly(core)),), slot=1),
            StackLayer(role="overlay", groups=(StrandGroup(CORD, exactly(overlay)),), slot=2),
        )
    )


STACKS = [stack(6, 16), stack(5, 16), stack(4, 14), stack(3, 12), stack(2, 10), stack(1, 8)]


@pytest.mark.parametrize("whips", [2, 8, 30])
def test_whips_alike_are_predicted_as_they_were_read(whips: int) -> None:
    read = {one: round(1.1 * geometric_diameter(one).diameter_mm, 1) for one in STACKS}
    observations = [
        Observation(stack=one, diameter_mm=size, whip=f"W{number}", at_mm=100.0 * place)
        for number in range(whips)
        for place, (one, size) in enumerate(read.items())
    ]
    calibration = DiameterModel().fit(observations).calibration_
    for told, size in zip(
        predict(calibration, [Query(stack=one) for one in STACKS]), read.values(), strict=True
    ):
        assert told.diameter_mm == pytest.approx(size, rel=0.02)
        assert told.low_90_mm < size < told.high_90_mm
        assert told.high_90_mm - told.low_90_mm >= 2 * 1.64 * 0.05
