"""What further readings would teach: how much variance predictions lose, before anything is measured.

In a linear mixed model the variance after a reading does not depend on what the reading says, so it can be
told beforehand: with c the covariance of a prediction with the readings y to come, and V(y) theirs, it falls
by c' V(y)^-1 c (the conditional variance of a normal distribution). Each whip to come has a pull of its own.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.observations import Observation, Query
from plaitlog.models.calibration.packed import Array, Index
from plaitlog.models.calibration.prediction import Rows, rows_of, whip_variances

CORD_BLOCKS = ("cord", "unweighed", "unmeasured_width", "unpressed")
"""Effects of a cord that a measurement of the cord tells something about."""


@dataclass(frozen=True, slots=True)
class Trial:
    """Readings that might be taken, or be used, in the future; what they say does not matter.

    Those that name one whip share its pull. replaces : the same readings as the fit has them already, on
    stacks less exactly known (empty: it has none); then only what the better stacks add is counted.
    """

    readings: tuple[Observation, ...]
    replaces: tuple[Observation, ...] = ()


def variance_losses(calibration: Calibration, targets: Sequence[Query], trials: Sequence[Trial]) -> Array:
    """By how much the variance of log diameter of each target falls with each trial alone: (trials, targets).

    Targets lie on whips of their own: what a trial tells about the pull on its whip is of no use there.
    """
    losses = np.zeros((len(trials), len(targets)))
    if not targets or not trials:
        return losses
    taken = [reading for trial in trials for reading in trial.readings]
    seen = [*taken, *(reading for trial in trials for reading in trial.replaces)]
    rows = _rows(calibration, targets, seen)
    n = len(targets)
    noise = calibration.variances["residual"] + rows.caliper_variance
    noise = noise * np.array([1.0] * n + [4.0 if x.doubtful else 1.0 for x in seen])
    whip = whip_variances(calibration)
    first, old = n, n + len(taken)
    for k, trial in enumerate(trials):
        now = np.arange(first, first + len(trial.readings))
        first += len(trial.readings)
        own = rows.own_variance[now] + noise[now]
        if trial.replaces:
            before = np.arange(old, old + len(trial.replaces))
            old += len(trial.replaces)
            less = rows.own_variance[before] + noise[before]
            # Precisions add: what is gained is the precision now less the precision there was.
            gained = np.maximum(1.0 / own - 1.0 / less, 1e-12)
            own = 1.0 / gained
        across = _shared(calibration, rows, np.arange(n), now)
        labels = np.array([reading.whip for reading in trial.readings])
        pulled = (rows.whip[now] * whip) @ rows.whip[now].T * (labels[:, None] == labels)
        inside = _shared(calibration, rows, now, now) + pulled
        solved = np.linalg.solve(inside + np.diag(own), across.T)
        losses[k] = np.einsum("ij,ji->i", across, solved)
    return losses


def floor_variances(calibration: Calibration, targets: Sequence[Query]) -> Array:
    """The variance of log diameter that no record takes away (targets,).

    A new whip's own pull, the irregularity of the plait and the caliper: what is left where the diameter to
    be expected of every stack is known.
    """
    rows = _rows(calibration, targets)
    noise = calibration.variances["residual"] * calibration.noise
    return np.asarray(rows.whip**2 @ whip_variances(calibration) + noise + rows.caliper_variance)


def covariance_of_readings(
    calibration: Calibration, readings: Sequence[Observation]
) -> tuple[Array, Array, Array]:
    """Expected log diameter (n,) of readings to come, its covariance (n, n) and each one's own noise (n,).

    Readings that name one whip share its pull; all share what the fit does not know of their cords.
    """
    rows = _rows(calibration, (), readings)
    every = np.arange(len(readings))
    labels = np.array([reading.whip for reading in readings])
    pulled = (rows.whip * whip_variances(calibration)) @ rows.whip.T * (labels[:, None] == labels)
    doubt = np.array([4.0 if reading.doubtful else 1.0 for reading in readings])
    noise = (calibration.variances["residual"] * calibration.noise + rows.caliper_variance) * doubt
    covariance = _shared(calibration, rows, every, every) + pulled + np.diag(rows.own_variance + noise)
    return rows.mean, covariance, noise


def cord_parts(calibration: Calibration, targets: Sequence[Query], name: str) -> tuple[Array, Array]:
    """How the part u of each target's log diameter that is the effect of one cord is known: (targets,) twice.

    First the covariance of u with the log diameter itself (less than u's variance where readings say only
    what the cord does together with other effects), then the variance of u.
    """
    rows = _rows(calibration, targets)
    wanted = {f"{block}:{name}" for block in CORD_BLOCKS}
    known = [k for k, column in enumerate(calibration.columns.names) if column in wanted]
    part, covariance = rows.design.rows[:, known], calibration.covariance[known]
    own = np.einsum("ij,jk,ik->i", part, covariance[:, known], part)
    across = np.einsum("ij,jk,ik->i", part, covariance, rows.design.rows)
    new = [k for k, column in enumerate(rows.unseen_names) if column in wanted]
    unseen = rows.design.unseen.tocsc()[:, new].toarray() ** 2 @ rows.unseen_variance[new]
    return np.asarray(across + unseen), np.asarray(own + unseen)


def _rows(calibration: Calibration, targets: Sequence[Query], seen: Sequence[Observation] = ()) -> Rows:
    both: list[Query | Observation] = [*targets, *seen]
    return rows_of(
        calibration,
        calibration.columns,
        [x.stack for x in both],
        [x.maker for x in both],
        [x.condition for x in both],
        ["caliper"] * len(targets) + [x.method for x in seen],
        [x.inner for x in both],
        [x.at_mm for x in both],
    )


def _shared(calibration: Calibration, rows: Rows, first: Index, second: Index) -> Array:
    """Covariance of log diameters through what whips share: coefficients, and levels not seen yet."""
    left, right = rows.design.rows[first], rows.design.rows[second]
    total = left @ calibration.covariance @ right.T
    if rows.design.unseen.shape[1]:
        unseen = rows.design.unseen.tocsr()
        scaled = unseen[first].multiply(rows.unseen_variance).tocsr()
        total += (scaled @ unseen[second].T).toarray()
    return np.asarray(total)
