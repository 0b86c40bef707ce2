"""How far several raters agree: intraclass correlations (Shrout & Fleiss 1979, *Psychol. Bull.* 86:420)."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

import numpy as np
import numpy.typing as npt
from scipy import stats


@dataclass(frozen=True, slots=True)
class Agreement:
    """An intraclass correlation with its 95 % interval, over so many whips; 1 is full agreement, 0 none."""

    value: float
    low_95: float
    high_95: float
    whips: int


@dataclass(frozen=True, slots=True)
class Intraclass:
    """Of a full table: one-way, two-way random and two-way mixed, for one rater and for the mean of k."""

    icc_1_1: float
    icc_2_1: float
    icc_3_1: float
    icc_1_k: float
    icc_2_k: float
    icc_3_k: float


def intraclass(table: npt.ArrayLike) -> Intraclass:
    """The six forms of an (n whips, k raters) table without gaps; n and k at least 2.

    Raises ValueError where the table is smaller or has gaps.
    """
    y = np.asarray(table, dtype=np.float64)
    if y.ndim != 2 or min(y.shape) < 2 or not np.isfinite(y).all():
        raise ValueError("a full table of at least two whips and two raters is needed")
    n, k = y.shape
    grand = y.mean()
    whips = k * float(((y.mean(axis=1) - grand) ** 2).sum()) / (n - 1)
    within = float(((y - y.mean(axis=1, keepdims=True)) ** 2).sum()) / (n * (k - 1))
    raters = n * float(((y.mean(axis=0) - grand) ** 2).sum()) / (k - 1)
    error = (n * (k - 1) * within - (k - 1) * raters) / ((n - 1) * (k - 1))
    return Intraclass(
        icc_1_1=(whips - within) / (whips + (k - 1) * within),
        icc_2_1=(whips - error) / (whips + (k - 1) * error + k * (raters - error) / n),
        icc_3_1=(whips - error) / (whips + (k - 1) * error),
        icc_1_k=(whips - within) / whips,
        icc_2_k=(whips - error) / (whips + (raters - error) / n),
        icc_3_k=(whips - error) / whips,
    )


def agreement(groups: Sequence[Sequence[float]]) -> Agreement | None:
    """The one-way intraclass correlation of one rater where whips have different numbers of raters.

    groups : for each whip the ratings of its raters, two at least. By the analysis of variance, with the
    number of raters n0 that an unbalanced table stands for (Searle, Casella & McCulloch 1992, section 3.6);
    the interval is that of F with n0, which is close unless the numbers differ widely. None for fewer than
    three whips, or where all ratings are the same.
    """
    told = [one for one in groups if len(one) > 1]
    if len(told) < 3:
        return None
    sizes = np.array([len(one) for one in told], dtype=np.float64)
    total, whips = sizes.sum(), len(told)
    means = np.array([fmean(one) for one in told])
    values = np.array([value for one in told for value in one])
    within = float(((values - np.repeat(means, sizes.astype(int))) ** 2).sum()) / (total - whips)
    between = float((sizes * (means - values.mean()) ** 2).sum()) / (whips - 1)
    if within == 0:
        return None if between == 0 else Agreement(1.0, 1.0, 1.0, whips)
    n0 = float((total - (sizes**2).sum() / total) / (whips - 1))
    ratio = between / within
    low, high = (ratio / stats.f.ppf(share, whips - 1, total - whips) for share in (0.975, 0.025))
    of = [float((one - 1) / (one - 1 + n0)) for one in (ratio, low, high)]
    return Agreement(of[0], of[1], of[2], whips)
