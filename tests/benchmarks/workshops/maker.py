"""How the simulated maker lays out a whip: counts that keep the cover, drops along the thong."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from plaitlog.models.whip import (
    Fate,
    Foundation,
    Layer,
    LayerCord,
    Place,
    Role,
    Step,
    StrandSchedule,
    Whip,
    exactly,
)
from tests.benchmarks.workshops.cords import HiddenCord
from tests.benchmarks.workshops.habits import Habits

Sized = Callable[[Whip, float], float]
"""Expected diameter (mm) of a whip, as far as its layers are laid out, at a station."""

GRID = 30
THICK_MM = 12.0
"""Over a belly this thick no second one is plaited."""
QUICKEST = 4
"""Strands dropped from one of the grid's stations to the next, at most: two pairs, staggered."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Which cords a whip is made of; the overlay may mix two."""

    core: HiddenCord
    bellies: tuple[HiddenCord, ...]
    overlay: tuple[HiddenCord, ...]


def choose(rng: np.random.Generator, cords: Sequence[HiddenCord], habits: Habits) -> Choice:
    """Any cord may be the overlay; three inner layers in ten are made of it, the others of thinner cords."""

    def pick() -> HiddenCord:
        first, second = (cords[int(rng.integers(len(cords)))] for _ in range(2))
        return min(first, second, key=lambda cord: cord.area_mm2)

    outside = cords[int(rng.integers(len(cords)))]
    overlay = [outside]
    if len(cords) > 1 and rng.random() < habits.two_cords:
        others = [cord for cord in cords if cord.name != outside.name]
        overlay.append(min(others, key=lambda cord: abs(cord.width_mm - outside.width_mm)))
    bellies = [outside if rng.random() < 0.3 else pick() for _ in range(1 + int(rng.random() < 0.25))]
    return Choice(outside if rng.random() < 0.3 else pick(), tuple(bellies), tuple(overlay))


def lay_out(
    rng: np.random.Generator, label: str, maker: str, choice: Choice, habits: Habits, size: Sized
) -> Whip:
    """A whip without readings: core, one or two bellies and an overlay to the point, thinned by drops."""
    length = float(round(int(rng.integers(48, 97)) * 25.4))
    whip = Whip(
        label=label,
        maker=maker,
        type="bullwhip",
        status="finished",
        datum="handle end",
        thong_length_mm=length,
        foundation="none",
        layers_complete=True,
    )
    start = 0.0
    if rng.random() < habits.foundation:
        start = round(float(rng.uniform(0.08, 0.2)) * length)
        rod = round(float(rng.uniform(5, 9)) * 2) / 2
        whip = replace(whip, foundation=Foundation(diameter_mm=rod, to_mm=start, material="steel"))
    core_end = float(rng.uniform(0.30, 0.60)) * length
    whip = replace(whip, layers=(_core(rng, choice.core, start, core_end, length),))
    cover = float(rng.normal(0.86, 0.08))
    end = core_end
    for cord in choice.bellies:
        if len(whip.layers) > 1 and size(whip, start) > THICK_MM:
            break
        end = min(end + float(rng.uniform(0.06, 0.22)) * length, 0.88 * length)
        whip = _plait(rng, whip, "belly", (cord,), end, cover, habits, size)
    return _plait(rng, whip, "overlay", choice.overlay, length, cover, habits, size)


def _core(rng: np.random.Generator, cord: HiddenCord, start: float, end: float, length: float) -> Layer:
    wanted = float(rng.uniform(3.5, 7.5))
    count = int(np.clip(round((wanted / cord.area_mm2**0.5 / 1.35) ** 2), 1, 13))
    gap = (end - start) / count
    first = start if start > 0 else 0.0
    steps = [_step(first, (count,))]
    steps += [_step(round(start + gap * (k + 1)), (count - k - 1,)) for k in range(count)]
    return Layer(
        role="core",
        cords=(LayerCord(cord.name),),
        schedule=StrandSchedule(tuple(steps)),
        fate=Fate("cut"),
    )


def _step(at_mm: float, counts: tuple[int, ...]) -> Step:
    return Step(Place(at_mm, at_mm), tuple(exactly(count) for count in counts))


def _plait(
    rng: np.random.Generator,
    whip: Whip,
    role: Role,
    cords: tuple[HiddenCord, ...],
    end: float,
    cover: float,
    habits: Habits,
    size: Sized,
) -> Whip:
    """The whip with one more layer, its counts chosen station by station from thick to thin."""
    assert whip.thong_length_mm is not None
    length = whip.thong_length_mm
    eye = float(np.mean([cord.width_mm for cord in cords])) * math.exp(float(rng.normal(0, 0.03)))
    fate = Fate("cut")
    if rng.random() < habits.filler:
        tuck = Fate("tuck", length_mm=80.0, gutted=bool(rng.random() < 0.5))
        fate = Fate("run", gutted=True) if role == "overlay" else tuck
    steps: list[Step] = []
    count = 0
    for at_mm in np.linspace(0.0, end, GRID, endpoint=False):
        station = round(float(at_mm))
        best = _best_count(whip, role, cords, station, eye, cover, count, size)
        if not steps or best < count:
            steps.append(_step(station, _shares(best, len(cords))))
            count = best
    if end < length:
        steps.append(_step(round(end), (0,) * len(cords)))
    layer = _layer(role, cords, tuple(steps), fate)
    return replace(whip, layers=(*whip.layers, layer))


def _layer(role: Role, cords: tuple[HiddenCord, ...], steps: tuple[Step, ...], fate: Fate) -> Layer:
    named = tuple(LayerCord(cord.name, letter=letter) for cord, letter in zip(cords, "AB", strict=False))
    return Layer(role=role, cords=named, schedule=StrandSchedule(steps), fate=fate)


def _shares(count: int, cords: int) -> tuple[int, ...]:
    return (count,) if cords == 1 else (count - count // 2, count // 2)


def _best_count(
    whip: Whip,
    role: Role,
    cords: tuple[HiddenCord, ...],
    at_mm: float,
    eye: float,
    cover: float,
    before: int,
    size: Sized,
) -> int:
    """Even count whose cover comes nearest to the wanted one, never more than before and never below four."""
    inner = size(whip, at_mm)
    count = before or 4
    missed = math.inf
    while 4 <= count <= 32:
        layer = _layer(role, cords, (_step(0.0, _shares(count, len(cords))),), Fate("cut"))
        outer = size(replace(whip, layers=(*whip.layers, layer)), at_mm)
        miss = abs(count * eye / (math.pi * (inner + outer)) - cover)
        if miss >= missed:
            break
        missed, best = miss, count
        count += -2 if before else 2
        if before and before - count > QUICKEST:
            break
    return best
