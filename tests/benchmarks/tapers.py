"""``python -m tests.benchmarks.tapers``: taper parameters of a workshop of thousands, and how fast.

Half a minute on two cores. ``--whips`` for another number, ``--database FILE`` for the fit in force there.
"""

import argparse
import os
import sys
import time
from dataclasses import replace

import numpy as np

from plaitlog.models.calibration.calibrated import prior_calibration
from plaitlog.models.taper import Shape
from plaitlog.models.whip import Reading, Whip
from plaitlog.service import database as databases
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.handling.parameters import all_parameters
from plaitlog.service.usecases.predicting import InForce, fit_in_force
from tests.benchmarks.scale_records import models

GOAL_S = 25.0
LAID_OUT = 150
STATIONS = 10


def whips(count: int, pattern: tuple[Whip, ...], seed: int = 0) -> list[Whip]:
    """Copies of the patterns, each with ten noisy readings of a taper of its own."""
    rng = np.random.default_rng(seed)
    return [read(replace(pattern[k % len(pattern)], label=str(k)), rng) for k in range(count)]


def read(whip: Whip, rng: np.random.Generator) -> Whip:
    length = whip.thong_length_mm
    assert length is not None
    start = (whip.handle_length_mm or 0.0) if whip.datum == "butt" else 0.0
    shape = Shape(
        length_mm=length,
        thick_mm=rng.uniform(13, 22),
        point_mm=rng.uniform(5, 8.5),
        parallel_thick_mm=rng.uniform(0, 0.25) * length,
        parallel_point_mm=rng.uniform(0, 0.15) * length,
        fullness=rng.uniform(0.35, 0.7),
    )
    at = np.linspace(0.0, length, STATIONS)
    sizes = shape.diameter_mm(at) * (1 + 0.0125 * rng.normal(size=STATIONS))
    readings = tuple(
        Reading(at_mm=start + place, diameter_mm=size)
        for place, size in zip(at.tolist(), sizes.tolist(), strict=True)
    )
    return replace(whip, readings=readings)


def bar(done: int) -> None:
    sys.stderr.write(f"\r{done:>6} whips")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.tapers", description=__doc__)
    parser.add_argument("--whips", type=int, default=10_000)
    parser.add_argument("--database", metavar="FILE", help="take the fit in force from here")
    options = parser.parse_args()
    made = models(LAID_OUT)
    in_force = InForce(prior_calibration(), None)
    if options.database:
        engine, _ = ready_engine(options.database)
        with databases.reading(engine) as session:
            in_force = fit_in_force(session)
    workshop = whips(options.whips, made.whips)
    cords = {cord.name: cord for cord in made.cords}
    started, worked = time.perf_counter(), sum(os.times()[:4])
    found = all_parameters(in_force, workshop, cords, bar)
    took, cpu = time.perf_counter() - started, sum(os.times()[:4]) - worked
    sys.stderr.write("\r" + " " * 20 + "\r")
    told = sum(len(one.parameters) for one in found) / len(found)
    goal = GOAL_S * options.whips / 10_000
    print(f"taper parameters of {options.whips} whips, {told:.1f} of each")
    print(f"    {took:.1f} s   goal {goal:.1f} s{'' if took <= goal else '   MISSED'}")
    print(
        f"    {1000 * took / options.whips:.2f} ms a whip; {cpu:.1f} s of this process's own processor time"
    )


if __name__ == "__main__":
    main()
