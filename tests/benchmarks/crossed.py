"""``python -m tests.benchmarks.crossed``: a plain crossed model beside two packages, in one run.

log diameter ~ 1 + log thickness + (1 | cord) + (1 | cord x count) + (1 | whip), maximum likelihood against
maximum likelihood: at a million rows beside gpboost (``pip install gpboost``; with delta_rel_conv=1e-10, its
default stops early), at 2,000 rows beside statsmodels. Some minutes on two cores, nearly all of them theirs.
"""

import argparse
import importlib.util
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from plaitlog.models.calibration.mixed.crossed import (
    component_names,
    crossed_criterion,
    crossed_sums,
    fit_crossed,
)

Floats = NDArray[np.float64]
SDS = {"residual": 0.013, "cord": 0.07, "cord_count": 0.03, "whip": 0.03}
READINGS = 13
COUNTS = 15


@dataclass(frozen=True)
class Data:
    """Rows of simulated whips of thirteen readings; each whip is of one cord and loses strands along it."""

    y: Floats
    X: Floats
    cord: NDArray[np.intp]
    cord_count: NDArray[np.intp]
    whip: NDArray[np.intp]


def simulated(rows: int, cords: int, seed: int = 0) -> Data:
    rng = np.random.default_rng(seed)
    whips = -(-rows // READINGS)
    whip = np.repeat(np.arange(whips), READINGS)[:rows]
    cord = rng.integers(0, cords, whips)[whip]
    first = rng.integers(4, COUNTS, whips)[whip]
    count = np.maximum(first - (np.arange(rows) % READINGS) // 3, 0)
    pair = cord * COUNTS + count
    X = np.column_stack([np.ones(rows), rng.normal(size=rows)])
    y = X @ [2.5, 0.4] + rng.normal(0, SDS["residual"], rows)
    y += rng.normal(0, SDS["cord"], cords)[cord] + rng.normal(0, SDS["whip"], whips)[whip]
    y += rng.normal(0, SDS["cord_count"], cords * COUNTS)[pair]
    return Data(y, X, cord, np.unique(pair, return_inverse=True)[1], whip)


@dataclass(frozen=True)
class Outcome:
    """-2 log likelihood at the standard deviations found, in the order of ``SDS``, and seconds."""

    name: str
    sds: Floats
    seconds: float


def ours(data: Data) -> Outcome:
    started = time.perf_counter()
    fit = fit_crossed(data.y, data.X, {"cord": data.cord, "cord_count": data.cord_count}, data.whip)
    assert fit.converged
    return Outcome(
        "plaitlog", np.array(list(fit.standard_deviations.values())), time.perf_counter() - started
    )


def by_gpboost(data: Data) -> Outcome:
    import gpboost

    groups = pd.DataFrame({"cord": data.cord, "cord_count": data.cord_count, "whip": data.whip})
    started = time.perf_counter()
    model = gpboost.GPModel(group_data=groups, likelihood="gaussian")
    model.fit(y=data.y, X=data.X, params={"delta_rel_conv": 1e-10, "trace": False})
    seconds = time.perf_counter() - started
    variances = np.asarray(model.get_cov_pars(format_pandas=False), dtype=float).ravel()[:4]
    return Outcome("gpboost", np.sqrt(variances), seconds)


def by_statsmodels(data: Data) -> Outcome:
    from statsmodels.regression.mixed_linear_model import MixedLM

    frame = pd.DataFrame({"y": data.y, "x": data.X[:, 1], "one": 1})
    for name in ("cord", "cord_count", "whip"):
        frame[name] = getattr(data, name)
    parts = {name: f"0 + C({name})" for name in ("cord", "cord_count", "whip")}
    started = time.perf_counter()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = MixedLM.from_formula("y ~ x", groups="one", re_formula="0", vc_formula=parts, data=frame)
        fit = model.fit(reml=False, method=["bfgs", "lbfgs"], gtol=1e-8, maxiter=500)
    seconds = time.perf_counter() - started
    found = dict(zip(model.exog_vc.names, fit.vcomp, strict=True))
    variances = [fit.scale, *(found[name] for name in ("cord", "cord_count", "whip"))]
    return Outcome("statsmodels", np.sqrt(np.array(variances)), seconds)


def compare(data: Data, other: Callable[[Data], Outcome]) -> None:
    """Both on the same rows, one after the other; the likelihood of both by the same formula."""
    mine, theirs = ours(data), other(data)
    sums = crossed_sums(data.y, data.X, {"cord": data.cord, "cord_count": data.cord_count}, data.whip)
    assert component_names(sums)[0] == "residual"
    values = [crossed_criterion(sums, outcome.sds)[0] for outcome in (mine, theirs)]
    print(f"\n{len(data.y)} rows, {data.cord.max() + 1} cords, {data.whip[-1] + 1} whips")
    print(f"{'':<14}{'seconds':>10}{'-2 log likelihood':>22}" + "".join(f"{name:>12}" for name in SDS))
    for outcome, value in zip((mine, theirs), values, strict=True):
        sds = "".join(f"{sd:>12.6f}" for sd in outcome.sds)
        print(f"{outcome.name:<14}{outcome.seconds:>10.2f}{value:>22.6f}{sds}")
    worst = float(np.abs(mine.sds / theirs.sds - 1).max())
    _say("time over theirs", mine.seconds / theirs.seconds, 0.1)
    _say("largest difference of a standard deviation", worst, 0.01)
    _say("-2 log likelihood less theirs", values[0] - values[1], 1e-6)


def _say(what: str, value: float, goal: float) -> None:
    print(f"  {what:<46}{value:>12.6f}   goal {goal:g}{'' if value <= goal else '   MISSED'}")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.crossed", description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--small", type=int, default=2_000, help="rows beside statsmodels")
    options = parser.parse_args()
    compare(simulated(options.small, 8), by_statsmodels)
    if importlib.util.find_spec("gpboost") is None:
        print("\ngpboost is not there: pip install gpboost")
        return
    compare(simulated(options.rows, 40), by_gpboost)


if __name__ == "__main__":
    main()
