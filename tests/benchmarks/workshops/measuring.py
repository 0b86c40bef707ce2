"""What the calipers say, and what the notebook keeps of a whip."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from plaitlog.models.whip import Condition, Layer, Place, Reading, Span, StrandSchedule, Whip
from tests.benchmarks.workshops.habits import CALIPER_MM, CONDITIONS, IRREGULARITY_SD, STATIONS, Habits

Pulled = Callable[[float, int | None, str | None], float]
"""Diameter (mm) of one whip under its own pull: station, layer it is read after, condition."""

CLEAR_OF_DROPS_MM = 20.0


def measure(rng: np.random.Generator, whip: Whip, habits: Habits, pulled: Pulled) -> tuple[Reading, ...]:
    """Thirteen finished readings along the thong and, where the maker notes them, some of the last belly."""
    condition: Condition | None = None
    if rng.random() < habits.conditions:
        condition = list(CONDITIONS)[int(rng.integers(len(CONDITIONS)))]  # type: ignore[assignment]
    stations = _stations(whip)
    readings = [_read(rng, at_mm, None, condition, habits, pulled) for at_mm in stations]
    if habits.inner_every:
        belly = len(whip.layers) - 1
        schedule = whip.layers[belly - 1].schedule
        end = schedule.steps[-1].place.low_mm if schedule else 0.0
        inside = [at_mm for at_mm in stations if at_mm < end][:: habits.inner_every]
        fresh: Condition | None = "fresh" if habits.conditions else None
        readings += [_read(rng, at_mm, belly, fresh, habits, pulled) for at_mm in inside]
    return tuple(readings)


def _read(
    rng: np.random.Generator,
    at_mm: float,
    after_layer: int | None,
    condition: Condition | None,
    habits: Habits,
    pulled: Pulled,
) -> Reading:
    local, jaw = (float(value) for value in rng.normal(size=2))
    slip, factor = (float(value) for value in rng.random(2))
    true = pulled(at_mm, after_layer, condition)
    seen = true * math.exp(IRREGULARITY_SD * local) + CALIPER_MM * jaw
    if slip < habits.wrong:
        seen *= (0.5, 0.8, 1.25, 2.0)[int(4 * factor)]
    seen = round(max(seen, 0.5), 2)
    return Reading(at_mm=at_mm, diameter_mm=seen, after_layer=after_layer, condition=condition)


def _stations(whip: Whip) -> list[float]:
    """Evenly spaced, moved along by a few mm where a strand ends within 20 mm."""
    assert whip.thong_length_mm is not None
    drops = [
        s.place.low_mm for la in whip.layers if la.schedule for s in la.schedule.steps if s.place.low_mm > 0
    ]
    found = []
    for wanted in np.linspace(0.0, whip.thong_length_mm, STATIONS):
        tries = [float(wanted) + sign * shift for shift in range(0, 41, 5) for sign in (1, -1)]
        inside = [at_mm for at_mm in tries if 0 <= at_mm <= whip.thong_length_mm]
        clear = [at for at in inside if all(abs(at - drop) >= CLEAR_OF_DROPS_MM for drop in drops)]
        found.append(round(clear[0] if clear else float(wanted), 1))
    return found


def blurred(rng: np.random.Generator, whip: Whip) -> Whip:
    """The whip as an old notebook has it: one layer counted to a strand, its drops placed to an inch."""
    slot = 1 + int(rng.integers(len(whip.layers) - 1))
    layers = list(whip.layers)
    layers[slot] = _blurred(layers[slot])
    return replace(whip, layers=tuple(layers))


def _blurred(layer: Layer) -> Layer:
    assert layer.schedule is not None
    steps = []
    for step in layer.schedule.steps:
        counts = tuple(Span(max(c.low - 1, 0), c.high + 1) if c.high else c for c in step.counts)
        place = step.place
        if place.low_mm > 0:
            place = Place(place.low_mm - 15, place.low_mm + 15, "between")
        steps.append(replace(step, counts=counts, place=place))
    return replace(layer, schedule=StrandSchedule(tuple(steps), layer.schedule.rest))
