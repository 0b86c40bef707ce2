"""Whips of one overlay each, and a model of the diameter whose every figure can be worked out by hand."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plaitlog.models.calibration.observations import Observation, Prediction, Query
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Cord, exactly


def cord(name: str, diameter_mm: float = 4.0) -> Cord:
    return Cord(
        name=name,
        material="nylon",
        construction="cored",
        diameter_mm=diameter_mm,
        linear_density_g_per_m=0.42 * diameter_mm**2,
    )


def overlay(strands: int, *cords: Cord) -> Stack:
    groups = tuple(StrandGroup(each, exactly(strands)) for each in cords)
    return Stack((StackLayer(role="overlay", groups=groups),), foundation_mm=10.0)


def reading(
    whip: str,
    stack: Stack,
    diameter_mm: float,
    *,
    maker: str | None = None,
    doubtful: bool = False,
) -> Observation:
    return Observation(stack=stack, diameter_mm=diameter_mm, whip=whip, maker=maker, doubtful=doubtful)


@dataclass(frozen=True)
class Always:
    """Predicts one diameter for everything, whatever it was fitted to."""

    diameter_mm: float
    sd_log: float

    def fit(self, observations: Sequence[Observation]) -> "Always":
        return self

    def predict(self, queries: Sequence[Query]) -> list[Prediction]:
        low50, high50, low90, high90 = (
            self.diameter_mm * float(np.exp(z * self.sd_log)) for z in (-0.6745, 0.6745, -1.6449, 1.6449)
        )
        return [
            Prediction(
                diameter_mm=self.diameter_mm,
                sd_log=self.sd_log,
                low_50_mm=low50,
                high_50_mm=high50,
                low_90_mm=low90,
                high_90_mm=high90,
                cover=None,
                new_cord=False,
            )
            for _ in queries
        ]


class MeanDiameter:
    """Predicts the geometric mean of the diameters it was fitted to."""

    def fit(self, observations: Sequence[Observation]) -> Always:
        logs = np.log([observation.diameter_mm for observation in observations])
        return Always(float(np.exp(logs.mean())), 0.1)
