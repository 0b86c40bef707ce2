"""``python -m tests.benchmarks.plans``: plans plaited by mechanics that know nothing of the formulas here.

For each kind of mechanics workshops of twenty recorded whips are fitted; whips of the same cords are planned
in another length and plaited, each with another pull, and read at thirteen stations. It prints the share of
readings inside their 90 % interval. Four minutes on two cores.
"""

import argparse
import math
from collections.abc import Iterator

import numpy as np

from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.planning.asked import CUT, Asked, AskedLayer, Target
from plaitlog.models.taper import Shape
from plaitlog.models.whip import Fate, Whip
from plaitlog.service.usecases.planning.plan import Plan, make_plan
from plaitlog.service.usecases.predicting import InForce
from tests.benchmarks.observe import observed
from tests.benchmarks.workshops import MECHANICS
from tests.benchmarks.workshops.habits import CALIPER_MM, IRREGULARITY_SD, PULL_SD
from tests.benchmarks.workshops.laying import Mechanics, outer_mm
from tests.benchmarks.workshops.workshop import MadeWhip, Workshop, open_workshop

LENGTH = 1500.0


def plan_like(made: MadeWhip, workshop: Workshop, in_force: InForce) -> Plan:
    """A whip of the cords of a recorded one, from its thick end to its point, of another length."""
    real = made.real
    sizes = sorted((reading.at_mm or 0.0, reading.size_mm) for reading in real.readings)
    shape = Shape(
        length_mm=LENGTH,
        thick_mm=sizes[0][1],
        point_mm=sizes[-1][1],
        parallel_thick_mm=100,
        parallel_point_mm=150,
        fullness=0.5,
    )
    at = np.arange(151) * 10.0
    layers = tuple(
        AskedLayer(
            role=layer.role,
            cord=workshop.catalogue[layer.cords[0].cord],
            fate=CUT if layer.role == "core" else Fate("tuck", 80.0),
        )
        for layer in (real.layers[0], real.layers[1], real.layers[-1])
    )
    asked = Asked(
        length_mm=LENGTH,
        layers=layers,
        target=Target(diameter_mm=shape.diameter_mm(at), held_to_mm=100, held_from_mm=LENGTH - 150),
        cords=workshop.catalogue,
    )
    whip = Whip(
        label="next", maker="Orrin", status="planned", datum="handle end", thong_length_mm=LENGTH,
        handle_length_mm=0,
    )  # fmt: skip
    return make_plan(in_force, whip, asked, workshop.catalogue)


def readings_held(mechanics: Mechanics, seed: int, plans: int) -> Iterator[bool]:
    """By a fit to twenty whips ``plans`` plans, each plaited eight times with another pull."""
    workshop = open_workshop(mechanics, seed)
    recorded = workshop.make(20, "recorded")
    in_force = InForce(DiameterModel().fit(observed(workshop, recorded)).calibration_, 1)
    rng = np.random.default_rng(seed)
    for made in recorded[:plans]:
        plan = plan_like(made, workshop, in_force)
        for _ in range(8):
            pull = workshop.makers["Orrin"] + PULL_SD * float(rng.normal())
            for station in plan.stations[5::12]:
                true = outer_mm(mechanics, station.stack, workshop.hidden, lambda slot, pull=pull: pull)
                read = true * math.exp(IRREGULARITY_SD * rng.normal()) + CALIPER_MM * rng.normal()
                yield station.low_90_mm <= read <= station.high_90_mm


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--plans", type=int, default=3)
    asked = parser.parse_args()
    shares = []
    for mechanics in MECHANICS:
        held = [
            float(np.mean(list(readings_held(mechanics, seed, asked.plans))))
            for seed in range(1, asked.seeds + 1)
        ]
        shares.append(float(np.mean(held)))
        print(f"{mechanics.name:16} {shares[-1]:.3f}   by workshop {' '.join(f'{one:.2f}' for one in held)}")
    print(f"{'all kinds':16} {np.mean(shares):.3f}   goal 0.9")


if __name__ == "__main__":
    main()
