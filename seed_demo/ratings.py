"""What the makers say of their whips, and the planted truth behind it.

THE PLANTED TRUTH. These rules, and nothing else, tie a quality to what a whip is (z: in round numbers, how
many spreads away from the middle of the workshop):

* volley      falls with fullness (an early taper is good) and with the diameter of the point (thin is good);
* accuracy    grows with weight per length, the whole whip on the scale over the length of its thong;
* roll_out    is best where the drop spacing has no trend along the thong, and falls off on both sides;
* overall     grows with the maker's build number, as skill does.

Ease, recovery, tracking, balance and the three notes of feel depend on nothing but the day. A rater has a
leniency of their own; every score carries noise and is a whole number from 1 to 10.
"""

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final

from plaitlog.seed_demo.bench import thong_grams
from plaitlog.seed_demo.builds import Build, fullness
from plaitlog.seed_demo.chance import Chance
from plaitlog.seed_demo.makers import GUEST, ORRIN, TAMSIN, Maker

QUALITIES: Final = (
    "ease", "volley", "accuracy", "roll_out", "recovery", "tracking", "balance", "overall",
)  # fmt: skip
NOISE_SD: Final = 0.9
FULLNESS_MIDDLE, FULLNESS_SPREAD = 0.60, 0.10
POINT_MIDDLE, POINT_SPREAD = 7.4, 1.3
HEAVINESS_MIDDLE, HEAVINESS_SPREAD = 190.0, 80.0


def merits(build: Build, weight_g: float) -> dict[str, float]:
    """The expected score of each quality, before the rater's leniency and noise. Weight in g."""
    point = build.true_diameter(build.thong.length_mm - 15)
    early = (FULLNESS_MIDDLE - fullness(build)) / FULLNESS_SPREAD
    thin = (POINT_MIDDLE - point) / POINT_SPREAD
    heavy = (weight_g / (build.thong.length_mm / 1000) - HEAVINESS_MIDDLE) / HEAVINESS_SPREAD
    plain = dict.fromkeys(QUALITIES, 6.0)
    return plain | {
        "volley": 5.5 + 1.2 * early + 0.9 * thin,
        "accuracy": 5.5 + 1.4 * heavy,
        "roll_out": 8.0 - 4.0 * build.wish.trend**2,
        "overall": 3.8 + 4.6 * build.build_number / 50,
    }


def scores(merit: Mapping[str, float], rater: Maker, chance: Chance, tried: float) -> dict[str, Any]:
    """Whole scores from 1 to 10; each quality is tried with probability ``tried``, overall always."""
    found: dict[str, Any] = {}
    for quality in QUALITIES:
        score = merit[quality] + rater.lenient + chance.normal(NOISE_SD)
        if quality == "overall" or chance.happens(tried):
            found[quality] = min(max(round(score), 1), 10)
        elif chance.happens(0.5):
            found[quality] = "not tried"
    return found


def own_rating(build: Build, weight_g: float, chance: Chance) -> dict[str, Any]:
    """The maker's short dict, noted when the whip was finished."""
    rated = scores(merits(build, weight_g), build.maker, chance, 0.85)
    return {quality: score for quality, score in rated.items() if score != "not tried"}


def sessions(build: Build, weight_g: float, chance: Chance) -> list[dict[str, Any]]:
    """Up to three sessions on different days, one of them by somebody else."""
    found, day, hours = [], build.made_on, 0.0
    raters = (build.maker, chance.one_of((ORRIN, TAMSIN, GUEST)), build.maker)
    for rater in raters[: chance.whole(1, 3)]:
        day += dt.timedelta(days=chance.whole(4, 60))
        hours += chance.whole(1, 10) / 2
        record: dict[str, Any] = {"kind": "rating", "whip": build.label, "by": rater.name}
        record |= {"on": day.isoformat(), "hours_of_use": hours}
        if build.kind.fall != "none":
            record |= {"fall": build.kind.fall, "cracker": chance.one_of(("twisted nylon", "spun polyester"))}
        record["scores"] = scores(merits(build, weight_g), rater, chance, 0.8)
        if chance.happens(0.6):
            feels = ("thong_handle", "limp_stiff", "slow_quick")
            record["feel"] = {feel: min(max(round(chance.normal(0.9)), -2), 2) for feel in feels}
        found.append(record)
    return found


def bare_weight(build: Build) -> float:
    """Weight in g without fall and cracker, for judging: thong, and what a handle of its type weighs."""
    handle = 0.0
    if build.rod_mm and build.handle_mm:
        handle = build.handle_mm * (0.0062 * build.rod_mm**2 + 0.16) + 13
    elif build.handle_mm:
        handle = build.handle_mm * 0.25 + 6
    return sum(grams for _, grams in thong_grams(build.thong)) + handle
