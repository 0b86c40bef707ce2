"""A predict function of plans by geometry alone, for tests: 4 per cent of uncertainty on everything."""

from collections.abc import Sequence

import numpy as np

from plaitlog.models.mass import by_geometry
from plaitlog.models.planning.states import Sizes
from plaitlog.models.stack import Stack
from plaitlog.models.whip import Cord

SD = 0.04


def cord(name: str, diameter_mm: float, density: float) -> Cord:
    return Cord(
        name=name,
        construction="cored",
        material="nylon",
        diameter_mm=diameter_mm,
        linear_density_g_per_m=density,
        price_per_m=0.3,
    )


THIN, THICK = cord("Beck 2.5 mm", 2.5, 2.75), cord("Ridge 4 mm", 4.0, 7.2)
CORDS = {one.name: one for one in (THIN, THICK)}


def predict(stacks: Sequence[Stack]) -> Sizes:
    laid = by_geometry(stacks)
    return Sizes(
        log_mm=np.log(
            [
                layers[-1].outer_mm if layers else stack.foundation_mm
                for stack, layers in zip(stacks, laid, strict=True)
            ]
        ),
        sd=np.full(len(stacks), SD),
        covers=[
            {one.layer.slot: one.cover for one in layers if one.cover is not None and one.inner_mm > 0}
            for layers in laid
        ],
    )
