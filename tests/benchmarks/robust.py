"""``python -m tests.benchmarks.robust``: what two wrong readings in a hundred do to a fit.

The same simulated whips twice, once with 2 % of the readings wrong by a factor of 1/2, 4/5, 5/4 or 2. By how
much predicted diameters of plaited stacks move, what weight wrong readings keep, and how many sound readings
are reported as suspect. A minute on two cores.
"""

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.stack import PLAITED
from tests.benchmarks.accuracy import habits_of
from tests.benchmarks.observe import asked, observed
from tests.benchmarks.workshops import MECHANICS, Mechanics
from tests.benchmarks.workshops.workshop import open_workshop

WRONG = 0.02
GOAL_MOVED = 0.01
GOAL_WEIGHT = 0.1


@dataclass(frozen=True, slots=True)
class Robustness:
    """moved: median of |change of log D|; weight: largest of a wrong reading; sound_suspects: a share."""

    wrong: int
    moved: float
    moved_95: float
    weight: float
    sound_suspects: float


def robustness(mechanics: Mechanics, seed: int, whips: int) -> Robustness:
    """Fit with and without wrong readings, and predict whips that neither has seen."""
    clean = open_workshop(mechanics, seed, habits_of("mixed", seed))
    careless = replace(clean, habits=replace(clean.habits, wrong=WRONG))
    sound = observed(clean, clean.make(whips, "recorded"))
    spoilt = observed(careless, careless.make(whips, "recorded"))
    wrong = np.array([a.diameter_mm != b.diameter_mm for a, b in zip(sound, spoilt, strict=True)], dtype=bool)
    models = [DiameterModel().fit(readings) for readings in (sound, spoilt)]
    questions = [asked(x) for x in observed(clean, clean.make(20, "new"))]
    questions = [q for q in questions if any(layer.role in PLAITED for layer in q.stack.layers)]
    logs = [np.log([one.diameter_mm for one in model.predict(questions)]) for model in models]
    moved = np.abs(logs[1] - logs[0])
    weights = models[1].weights_
    suspects = {suspect.index for suspect in models[1].calibration_.suspects}
    accused = sum(index in suspects for index in np.flatnonzero(~wrong).tolist())
    return Robustness(
        wrong=int(wrong.sum()),
        moved=float(np.median(moved)),
        moved_95=float(np.quantile(moved, 0.95)),
        weight=float(weights[wrong].max(initial=0.0)),
        sound_suspects=accused / max(int((~wrong).sum()), 1),
    )


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.robust", description=__doc__)
    parser.add_argument("--whips", type=int, nargs="+", default=[20, 60])
    parser.add_argument("--seeds", type=int, default=3)
    options = parser.parse_args(arguments)
    print(f"{'mechanics':<16}{'seed':>5}{'whips':>6}{'wrong':>6}{'moved, median':>15}{'95 %':>8}", end="")
    print(f"{'largest weight':>16}{'sound suspects':>16}")
    found = []
    for mechanics in MECHANICS:
        for seed in range(options.seeds):
            for whips in options.whips:
                one = robustness(mechanics, seed, whips)
                found.append(one)
                missed = "   MISSED" if one.moved > GOAL_MOVED or one.weight > GOAL_WEIGHT else ""
                print(
                    f"{mechanics.name:<16}{seed:>5}{whips:>6}{one.wrong:>6}{one.moved:>15.4f}"
                    f"{one.moved_95:>8.4f}{one.weight:>16.4f}{one.sound_suspects:>16.4f}{missed}",
                    flush=True,
                )
    print(f"\nworst median {max(x.moved for x in found):.4f}, goal {GOAL_MOVED}", end="; ")
    print(f"largest weight {max(x.weight for x in found):.4f}, goal {GOAL_WEIGHT}")


if __name__ == "__main__":
    main()
