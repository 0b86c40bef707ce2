"""What to try next: of given candidates the one whose rating would teach the joint model most.

By the expected fall of the mean variance of predictions over the recorded whips (I-optimal design; Chaloner &
Verdinelli 1995, *Stat. Sci.* 10:273), under Laplace's approximation of the slopes.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plaitlog.models.handling.cumulative_link import CumulativeLink
from plaitlog.models.handling.joint import Joint
from plaitlog.models.handling.study import Array


@dataclass(frozen=True, slots=True)
class Candidate:
    """teaches : by which share the mean variance of predictions should fall once it is rated. expected : its
    mean rating under the model."""

    label: str
    teaches: float
    expected: float


def rank_candidates(joint: Joint, candidates: Mapping[str, Mapping[str, float]]) -> tuple[Candidate, ...]:
    """The candidates by label, each with its parameters, the one that would teach most first."""
    columns, model = joint.columns, joint.model
    told = float(np.mean(np.einsum("ij,jk,ik->i", columns.X, model.covariance, columns.X)))
    found = []
    for label, values in candidates.items():
        row = columns.row(values)
        pull = model.covariance @ row
        weight = information(model, row)
        fall = weight * float(np.mean((columns.X @ pull) ** 2)) / (1 + weight * float(row @ pull))
        expected = float(model.expected(row[None])[0])
        found.append(Candidate(label, fall / told if told > 0 else 0.0, expected))
    return tuple(sorted(found, key=lambda one: (-one.teaches, one.label)))


def information(model: CumulativeLink, row: Array) -> float:
    """Fisher information of one rating on the linear predictor: the sum over levels of p'^2 / p."""
    eta = float(row @ model.slopes)
    below = 1 / (1 + np.exp(-(model.thresholds - eta)))
    slope = np.diff(np.concatenate([[0.0], below * (1 - below), [0.0]]))
    p = np.diff(np.concatenate([[0.0], below, [1.0]]))
    return float(np.sum(slope**2 / np.maximum(p, 1e-12)))
