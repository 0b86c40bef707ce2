"""The planted truth can be found again in the ratings, and nothing else can."""

import json
from typing import Any

import numpy as np
import pytest
from scipy.stats import rankdata, spearmanr

from plaitlog.seed_demo import workshop
from plaitlog.seed_demo.builds import Build, builds, fullness
from plaitlog.seed_demo.cords import natures
from plaitlog.seed_demo.ratings import QUALITIES, bare_weight

FEATURES = ("fullness", "point", "heaviness", "trend", "uneven", "number")


@pytest.fixture(scope="module")
def rated() -> tuple[dict[str, dict[str, float]], list[dict[str, Any]]]:
    """What each whip is, by label, and every set of scores: {whip, scores}."""
    records = [json.loads(line) for line in workshop.lines()]
    what = {build.label: _what(build) for build in builds(workshop.SEED, natures(workshop.SEED))}
    scored = [
        {"whip": record["label"], "scores": record["ratings"]}
        for record in records
        if record["kind"] == "whip" and record["label"] in what and "ratings" in record
    ]
    scored += [record for record in records if record["kind"] == "rating"]
    return what, scored


def _what(build: Build) -> dict[str, float]:
    length = build.thong.length_mm
    values = (
        fullness(build),
        build.true_diameter(length - 15),
        bare_weight(build) / length,
        build.wish.trend,
        abs(build.wish.trend),
        build.build_number,
    )
    return dict(zip(FEATURES, map(float, values), strict=True))


def _partial(
    rated: tuple[dict[str, dict[str, float]], list[dict[str, Any]]], quality: str, feature: str
) -> tuple[float, int]:
    """Rank correlation over whips (scores averaged) with the other features taken out; number of whips."""
    what, scored = rated
    by_whip: dict[str, list[float]] = {}
    for each in scored:
        score = each["scores"].get(quality)
        if isinstance(score, int):
            by_whip.setdefault(each["whip"], []).append(score)
    rows = [[what[label][name] for name in FEATURES] for label in by_whip]
    ranks = np.apply_along_axis(rankdata, 0, np.array(rows, dtype=float))
    scores = rankdata([float(np.mean(each)) for each in by_whip.values()])
    place = FEATURES.index(feature)
    others = np.column_stack([np.ones(len(scores)), np.delete(ranks, place, axis=1)])

    def rest(values: Any) -> Any:
        return values - others @ np.linalg.lstsq(others, values, rcond=None)[0]

    return float(np.corrcoef(rest(ranks[:, place]), rest(scores))[0, 1]), len(scores)


@pytest.mark.parametrize(
    ("quality", "feature", "sign"),
    [
        ("volley", "fullness", -1),
        ("volley", "point", -1),
        ("accuracy", "heaviness", 1),
        ("roll_out", "uneven", -1),
        ("overall", "number", 1),
    ],
)
def test_planted_truth_shows(rated: Any, quality: str, feature: str, sign: int) -> None:
    rho, whips = _partial(rated, quality, feature)
    assert whips > 30
    assert sign * rho > 0.4


def test_nothing_else_shows(rated: Any) -> None:
    """Forty-three pairs without a planted tie: by chance alone one in a thousand passes 3.3 spreads."""
    planted = {
        ("volley", "fullness"), ("volley", "point"), ("accuracy", "heaviness"), ("roll_out", "uneven"),
        ("overall", "number"),
    }  # fmt: skip
    for quality in QUALITIES:
        for feature in FEATURES:
            if (quality, feature) not in planted:
                rho, whips = _partial(rated, quality, feature)
                assert abs(np.arctanh(rho)) * np.sqrt(whips - len(FEATURES) - 2) < 3.3, (quality, feature)


def test_roll_out_is_bent_and_has_no_slope(rated: Any) -> None:
    what, scored = rated
    pairs = [
        (what[each["whip"]]["trend"], each["scores"]["roll_out"])
        for each in scored
        if isinstance(each["scores"].get("roll_out"), int)
    ]
    assert abs(spearmanr(*zip(*pairs, strict=True)).statistic) < 0.3


def test_scores_are_whole_numbers_from_1_to_10(rated: Any) -> None:
    _, scored = rated
    values = [score for each in scored for score in each["scores"].values()]
    assert {type(score) for score in values} == {int, str}
    assert {score for score in values if isinstance(score, str)} == {"not tried"}
    assert {score for score in values if isinstance(score, int)} <= set(range(1, 11))
    assert {each.get("by") for each in scored} >= {"Orrin", "Tamsin", "Wenna"}
