"""How the stacks of a plan come out by the fit in force, in one hand, after readings on the same whip."""

from collections.abc import Sequence

import numpy as np

from plaitlog.models.calibration.calibrated_geometry import calibrated_geometry
from plaitlog.models.calibration.prediction import Observation, Query
from plaitlog.models.mass import LaidLayer
from plaitlog.models.planning.states import Predict, Sizes
from plaitlog.models.stack import Stack
from plaitlog.service.usecases.predicting import InForce


def sizes_by(in_force: InForce, maker: str | None = None, readings: tuple[Observation, ...] = ()) -> Predict:
    """Diameters by the fit, each with its uncertainty for the next reading of a rolled whip."""

    def predict(stacks: Sequence[Stack]) -> Sizes:
        told = in_force.predict([Query(stack=stack, maker=maker, readings=readings) for stack in stacks])
        laid = calibrated_geometry(in_force.calibration, stacks)
        return Sizes(
            log_mm=np.log([one.diameter_mm for one in told]),
            sd=np.array([one.sd_log for one in told]),
            covers=[covers_of(layers) for layers in laid],
        )

    return predict


def covers_of(layers: Sequence[LaidLayer]) -> dict[int, float]:
    """Covers of the plaits of one stack by slot, of those that lie over something.

    Strands over nothing close on themselves whatever their count, so that there is no surface to cover.
    """
    return {one.layer.slot: one.cover for one in layers if one.cover is not None and one.inner_mm > 0}
