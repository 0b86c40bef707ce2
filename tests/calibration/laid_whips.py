"""Whips laid by a hand that works exactly as the model supposes: geometry, cord effects, pull, noise."""

from collections.abc import Mapping, Sequence

import numpy as np

from plaitlog.models.calibration.observations import Observation, Query
from plaitlog.models.calibration.packed import pack
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.resolve import resolve
from plaitlog.models.stack import Stack, StackLayer, StackRole, StrandGroup
from plaitlog.models.whip import Cord, exactly

PULL_SD, IRREGULARITY_SD, CALIPER_MM = 0.03, 0.012, 0.05
SIZES = {"Ridge": 4.0, "Fell": 3.0, "Tarn": 3.4, "Scar": 2.6, "Beck": 4.4, "Moor": 3.8}


def laid_cord(name: str, diameter_mm: float) -> Cord:
    return Cord(
        name=name,
        material="nylon",
        construction="cored",
        diameter_mm=diameter_mm,
        linear_density_g_per_m=0.413 * diameter_mm**2,
    )


CORDS: Mapping[str, Cord] = {name: laid_cord(name, size) for name, size in SIZES.items()}


def laid(role: StackRole, cord: Cord, strands: float, slot: int) -> StackLayer:
    return StackLayer(role=role, groups=(StrandGroup(cord, exactly(strands)),), slot=slot)


def stack_of(core: Cord, belly: Cord, overlay: Cord, station: int) -> Stack:
    """A whip of thirteen stations: core to the fifth, belly to the ninth, overlay to the point."""
    layers = []
    if station < 5:
        layers.append(laid("core", core, 6 - station, 1))
    if station < 9:
        layers.append(laid("belly", belly, 12 - 2 * (station // 3), 2))
    layers.append(laid("overlay", overlay, 16 - 2 * (station // 3), 3))
    return Stack(tuple(layers))


def true_mm(stacks: Sequence[Stack], effects: Mapping[str, float]) -> np.ndarray:
    """Diameters when every cord's contribution is exp(effect) times what geometry says."""
    geometry = Parameters().geometry
    packed = pack(stacks, geometry)
    eta = np.zeros(packed.kind.shape)
    for row, stack in enumerate(stacks):
        for place, layer in enumerate(stack.layers):
            for group in layer.groups:
                eta[row, place] += effects.get(group.cord.name, 0.0)
    return resolve(packed, eta, geometry).diameter


def whips(
    count: int,
    effects: Mapping[str, float],
    seed: int,
    makers: Mapping[str, float] | None = None,
    names: Sequence[str] = tuple(SIZES),
    label: str = "whip",
) -> list[Observation]:
    """Thirteen readings of each of ``count`` whips of random cords."""
    rng = np.random.default_rng(seed)
    pulls = dict(makers or {"Orrin": 0.0})
    found: list[Observation] = []
    for number in range(count):
        core, belly, overlay = (CORDS[name] for name in rng.choice(list(names), 3))
        maker = list(pulls)[number % len(pulls)]
        pull = pulls[maker] + PULL_SD * rng.normal()
        stacks = [stack_of(core, belly, overlay, station) for station in range(13)]
        sizes = true_mm(stacks, effects) * np.exp(pull + IRREGULARITY_SD * rng.normal(size=13))
        sizes += CALIPER_MM * rng.normal(size=13)
        found += [
            Observation(
                stack=stack,
                diameter_mm=float(size),
                whip=f"{label} {number}",
                maker=maker,
                at_mm=150.0 * station,
            )
            for station, (stack, size) in enumerate(zip(stacks, sizes, strict=True))
        ]
    return found


def asked(observation: Observation, readings: tuple[Observation, ...] = ()) -> Query:
    return Query(
        stack=observation.stack,
        maker=observation.maker,
        condition=observation.condition,
        at_mm=observation.at_mm,
        inner=observation.inner,
        readings=readings,
    )
