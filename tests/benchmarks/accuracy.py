"""How near predictions come to the floor, on simulated workshops whose truth is known.

The floor is the RMSE of log D that remains when the true expected diameter of every stack for this maker is
known: the pull of the whip, local irregularity and the calipers. For a cord never recorded, and once one whip
has it, the quirks of that cord count at their mean. A ratio of 1.10 is ten per cent above the floor.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from joblib import Parallel, delayed

from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.rivals import all_rivals
from tests.benchmarks.observe import observed
from tests.benchmarks.trials import ROWS, Setting, learn, trial
from tests.benchmarks.workshops import HELD_OUT, Mechanics
from tests.benchmarks.workshops.habits import BUSY, PLAIN, Habits
from tests.benchmarks.workshops.workshop import open_workshop

RIVALS = tuple(rival.name for rival in all_rivals())
GOALS: Mapping[str, Mapping[int, float]] = dict(
    zip(
        ROWS,
        (
            {8: 1.32, 20: 1.16, 60: 1.12, 200: 1.11},
            {8: 1.25, 20: 1.18, 60: 1.18, 200: 1.18},
            {8: 1.40, 20: 1.35, 60: 1.30, 200: 1.28},
            {8: 0.98, 20: 0.92, 60: 0.90, 200: 0.90},
            {8: 0.76, 20: 0.62, 60: 0.57, 200: 0.55},
            {20: 0.78, 60: 0.72},
            {20: 1.20, 60: 1.14},
        ),
        strict=True,
    )
)
"""Ratios to the floor that the project wants to reach, by number of recorded whips."""


def perturbed(by: float, seed: int) -> dict[str, Any]:
    """Parameters of the model, every real constant multiplied or divided by 1 + ``by`` at random."""
    rng = np.random.default_rng(seed)
    changed: dict[str, Any] = {}
    for name, value in DiameterModel().get_params().items():
        if isinstance(value, float):
            moved = value * (1 + by) ** float(rng.choice([-1, 1]))
            share = name.startswith("packing") or name in ("gamma", "sheath_share")
            changed[name] = min(moved, 0.95) if share else moved
    return changed


def records(
    mechanics: Sequence[Mechanics],
    seeds: Sequence[int],
    whips: Sequence[int],
    rows: Sequence[str],
    habits: str = "mixed",
    perturb: float = 0.0,
    jobs: int = 1,
) -> pd.DataFrame:
    """One row per held-out reading of every workshop: errors of log D of model, rivals and floor."""
    tasks = [
        delayed(_one)(kind, seed, count, tuple(rows), habits_of(habits, seed), perturb)
        for kind in mechanics
        for seed in seeds
        for count in whips
    ]
    found = Parallel(n_jobs=jobs)(tasks)
    return pd.DataFrame([record for part in found for record in part])


def habits_of(name: str, seed: int) -> Habits:
    """``mixed``: every third seed is busy (filler, foundations, drift, two makers), the others plain."""
    busy = name == "busy" or (name == "mixed" and seed % 3 == 2)
    return BUSY if busy else PLAIN


def _one(
    mechanics: Mechanics, seed: int, whips: int, rows: tuple[str, ...], habits: Habits, perturb: float
) -> list[dict[str, Any]]:
    workshop = open_workshop(mechanics, seed, habits)
    params = perturbed(perturb, seed) if perturb else {}
    setting = Setting(mechanics, seed, whips, workshop, params)
    learnt = learn(observed(workshop, workshop.make(whips, "recorded")), params)
    return [record for row in rows for record in trial(row, setting, learnt)]


def ratios(held: pd.DataFrame) -> pd.DataFrame:
    """RMSE over the floor's RMSE by row, whips and mechanics ("all": mean over the kinds of mechanics)."""
    parts = [
        {"row": row, "whips": whips, "mechanics": kind, "n": len(part), **_over_floor(part)}
        for (row, whips, kind), part in held.groupby(["row", "whips", "mechanics"], sort=False)
    ]
    table = pd.DataFrame(parts)
    values = ["model", *RIVALS, "in 50", "in 90", "floor"]
    mean = table.groupby(["row", "whips"], sort=False)[values].mean().reset_index()
    total = table.groupby(["row", "whips"], sort=False)["n"].sum().to_numpy()
    everything = mean.assign(mechanics="all", n=total)
    return pd.concat([table, everything], ignore_index=True)


def _over_floor(part: pd.DataFrame) -> dict[str, float]:
    """Whips (or cords) count alike, however many of their readings were held out."""
    square = (part[["floor", "model", *RIVALS]] ** 2).groupby([part["seed"], part["group"]]).mean().mean()
    floor = float(np.sqrt(square["floor"]))
    over = {name: float(np.sqrt(square[name])) / floor for name in ("model", *RIVALS)}
    return {**over, "in 50": part["in 50"].mean(), "in 90": part["in 90"].mean(), "floor": floor}


def coverage(held: pd.DataFrame) -> pd.DataFrame:
    """Share of readings inside their 50 % and 90 % interval, by stack depth and by known or new cord."""
    depth = held["depth"].clip(upper=3).map({0: "0", 1: "1", 2: "2", 3: "3 and more"})
    cord = held["new cord"].map({True: "new", False: "known"})
    grouped = held.assign(plaited=depth, cord=cord).groupby(["row", "whips", "cord", "plaited"])
    return grouped.agg(n=("in 50", "size"), in_50=("in 50", "mean"), in_90=("in 90", "mean")).reset_index()


def table_lines(table: pd.DataFrame) -> Iterator[str]:
    """The ratios as text, goal beside result; kinds of mechanics kept out of all tuning carry a star."""
    out = {mechanics.name for mechanics in HELD_OUT}
    short = ("geometry", "outer cord", "boosting")
    yield (
        f"{'row':<34}{'whips':>6} {'mechanics':<16}{'model':>7}{'goal':>6}"
        + "".join(f"{name:>12}" for name in short)
        + f"{'in 50':>7}{'in 90':>7}{'floor':>8}{'n':>7}"
    )
    for record in table.sort_values(["row", "whips"], kind="stable").to_dict("records"):
        goal = GOALS[record["row"]].get(record["whips"])
        name = record["mechanics"] + ("*" if record["mechanics"] in out else "")
        yield (
            f"{record['row']:<34}{record['whips']:>6} {name:<16}{record['model']:>7.3f}"
            + (f"{goal:>6.2f}" if goal else f"{'-':>6}")
            + "".join(f"{record[rival]:>12.2f}" for rival in RIVALS)
            + f"{record['in 50']:>7.2f}{record['in 90']:>7.2f}{record['floor']:>8.4f}{record['n']:>7}"
        )
