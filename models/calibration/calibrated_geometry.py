"""Stacks laid with the diameters that a fit predicts, for plait angles, strand paths and mass."""

from collections.abc import Sequence

import numpy as np

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.packed import PLAIT, Array
from plaitlog.models.calibration.prediction import rows_of
from plaitlog.models.geometry import angle_from_turn_deg, plait_cos
from plaitlog.models.mass import LaidLayer
from plaitlog.models.stack import Stack


def calibrated_geometry(calibration: Calibration, stacks: Sequence[Stack]) -> list[tuple[LaidLayer, ...]]:
    """Every stack, its layers as thick as the fit predicts them one over the other, in a mean hand.

    Plait angles go with these diameters: by the turn length where it is measured, else by the cover.
    """
    n = len(stacks)
    unstated = [None] * n
    rows = rows_of(
        calibration, calibration.columns, stacks, unstated, unstated, ["caliper"] * n, [False] * n, unstated
    )
    resolved, packed = rows.design.resolved, rows.packed
    constants = calibration.model_parameters.geometry
    by_cover = plait_cos(resolved.cover, constants.gamma, constants.angle_deg)
    turned = np.isfinite(packed.turn)
    by_turn = np.cos(np.radians(angle_from_turn_deg(np.where(turned, packed.turn, 1.0), resolved.mean)))
    cosine: Array = np.where(turned, by_turn, by_cover)
    plaited = packed.kind == PLAIT
    return [
        tuple(
            LaidLayer(
                layer,
                float(resolved.inner[i, k]),
                float(resolved.outer[i, k]),
                float(cosine[i, k]) if plaited[i, k] else None,
                float(resolved.cover[i, k]) if plaited[i, k] else None,
            )
            for k, layer in enumerate(stack.layers)
        )
        for i, stack in enumerate(stacks)
    ]
