"""What would teach most, against refitting with every outcome the candidate could have."""

import numpy as np
import pytest

from plaitlog.models.handling.associations import HEADLINE
from plaitlog.models.handling.cumulative_link import CumulativeLink, fit_cumulative_link
from plaitlog.models.handling.joint import Joint
from plaitlog.models.handling.next_whip import information, rank_candidates
from plaitlog.models.handling.study import Array
from tests.handling.test_joint import fitted, workshop


def prediction_variance(joint: Joint, model: CumulativeLink) -> float:
    X = joint.columns.X
    return float(np.mean(np.einsum("ij,jk,ik->i", X, model.covariance, X)))


def refitted_fall(joint: Joint, ratings: Array, row: Array) -> float:
    """The share by which the variance falls, over the ratings the model expects of the candidate."""
    X = np.vstack([joint.columns.X, row])
    chances = joint.model.probabilities(row[None])[0]
    left = [
        prediction_variance(joint, fit_cumulative_link(X, np.append(ratings, level), joint.model.prior_sd))
        for level in joint.model.levels
    ]
    return 1 - float(chances @ left) / prediction_variance(joint, joint.model)


def test_the_order_of_candidates_is_that_of_refitting_with_every_outcome() -> None:
    study = workshop(30, 3, 0.7)
    joint = fitted(study)
    rng = np.random.default_rng(5)
    candidates = {
        f"plan {k}": {
            name: 10 + far * float(z) for name, z in zip(HEADLINE, rng.standard_normal(6), strict=True)
        }
        for k, far in enumerate((0.0, 1.0, 2.0, 3.0, 5.0, 7.0))
    }
    found = rank_candidates(joint, candidates)
    brute = [
        refitted_fall(joint, study.levels["volley"], joint.columns.row(candidates[one.label]))
        for one in found
    ]
    ranks = np.argsort(np.argsort(brute))
    assert np.corrcoef(ranks, np.arange(len(found))[::-1])[0, 1] > 0.9
    assert found[0].teaches == pytest.approx(max(brute), abs=0.05)
    assert all(0 <= one.teaches < 1 for one in found)


def test_what_one_rating_tells_is_the_mean_square_of_its_score() -> None:
    joint = fitted(workshop(30, 4, 0.5))
    row = joint.columns.X[3]
    eta, step = float(row @ joint.model.slopes), 1e-5

    def log_chances(shift: float) -> Array:
        moved = np.zeros((1, len(row)))
        moved[0] = row + shift * joint.model.slopes / float(joint.model.slopes @ joint.model.slopes)
        return np.log(joint.model.probabilities(moved)[0])

    slope = (log_chances(step) - log_chances(-step)) / (2 * step)
    chances = joint.model.probabilities(row[None])[0]
    assert np.isfinite(eta)
    assert information(joint.model, row) == pytest.approx(float(chances @ slope**2), rel=1e-5)


def test_an_unusual_whip_teaches_more_than_one_like_the_middle() -> None:
    joint = fitted(workshop(30, 5, 0.5))
    middle = dict(zip(joint.columns.names, joint.columns.middles.tolist(), strict=True))
    found = rank_candidates(
        joint, {"usual": middle, "unusual": middle | {"point_mm": middle["point_mm"] + 4}}
    )
    assert [one.label for one in found] == ["unusual", "usual"]
    assert found[1].teaches == pytest.approx(0.0)


def test_no_candidates_give_no_ranking_and_unknown_parameters_teach_nothing() -> None:
    joint = fitted(workshop(30, 6, 0.5))
    assert rank_candidates(joint, {}) == ()
    (bare,) = rank_candidates(joint, {"plan": {}})
    assert bare.teaches == pytest.approx(0.0)
    (not_known,) = rank_candidates(joint, {"plan": {"point_mm": float("nan")}})
    assert not_known.teaches == pytest.approx(0.0)
