"""Makers and lots have an effect where the data carry it, and nowhere else."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from plaitlog.models.calibration.artifact import from_json, to_json
from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.observations import Observation, Prediction, Query
from plaitlog.models.calibration.updating import updated
from plaitlog.models.stack import Stack, StrandGroup
from tests.calibration.laid_whips import SIZES, asked, whips

NAMES = ("Ridge", "Fell")


def fit(observations: Sequence[Observation]) -> DiameterModel:
    return DiameterModel().fit(observations)


def columns(calibration: Calibration, block: str) -> set[str]:
    return {name for name in calibration.keyed if name.startswith(f"{block}:")}


def codes(model: DiameterModel) -> set[str]:
    return {finding.code for finding in model.calibration_.findings}


def told(model: DiameterModel, observation: Observation, **changed: object) -> Prediction:
    query = replace(asked(observation), **changed)  # type: ignore[arg-type]
    return model.predict([query])[0]


def of_lot(stack: Stack, cord: str, lot: str | None) -> Stack:
    def noted(groups: tuple[StrandGroup, ...]) -> tuple[StrandGroup, ...]:
        return tuple(replace(x, lot=lot) if x.cord.name == cord else x for x in groups)

    return replace(stack, layers=tuple(replace(x, groups=noted(x.groups)) for x in stack.layers))


def in_lots(lots: Sequence[str | None], effect: float, seed: int = 1) -> list[Observation]:
    """One whip for each lot of Ridge; every size of the second lot's whips is larger by ``effect``."""
    made = whips(len(lots), {}, seed, names=["Ridge"])
    by_whip = {f"whip {k}": lot for k, lot in enumerate(lots)}
    return [
        replace(
            x,
            stack=of_lot(x.stack, "Ridge", by_whip[x.whip]),
            diameter_mm=x.diameter_mm * float(np.exp(effect * (by_whip[x.whip] == "2026-07"))),
        )
        for x in made
    ]


def test_one_maker_has_no_effect_of_his_own() -> None:
    model = fit(whips(6, {}, 1, {"Orrin": 0.04}, NAMES))
    assert columns(model.calibration_, "maker") == set()
    assert "makers-not-told-apart" not in codes(model), "there is nobody to tell him from"


def test_a_second_maker_with_one_whip_is_told_from_nobody() -> None:
    first = whips(6, {}, 1, {"Orrin": 0.0}, NAMES)
    other = whips(1, {}, 2, {"Tamsin": 0.0}, NAMES, label="other")
    model = fit([*first, *other])
    assert columns(model.calibration_, "maker") == set()
    assert "makers-not-told-apart" in codes(model)
    more = whips(2, {}, 3, {"Tamsin": 0.0}, NAMES, label="more")
    assert columns(fit([*first, *other, *more]).calibration_, "maker") == {"maker:Orrin", "maker:Tamsin"}


@pytest.mark.parametrize("makers", [{"Orrin": 0.0}, {"Orrin": 0.03, "Tamsin": -0.03}])
def test_an_unknown_maker_widens_the_interval_by_the_variance_of_makers(makers: dict[str, float]) -> None:
    made = whips(12, {}, 4, makers, NAMES)
    model = fit(made)
    of_makers = model.calibration_.variances["maker"]
    known, unknown = told(model, made[0]), told(model, made[0], maker="Fenn")
    assert unknown.sd_log**2 > known.sd_log**2 + 0.5 * of_makers
    assert {finding.code for finding in unknown.findings} >= {"new-maker"}
    assert "new-maker" not in {finding.code for finding in known.findings}


def test_one_more_whip_brings_no_maker_into_a_fit_that_tells_none_apart() -> None:
    made = whips(9, {}, 5, {"Orrin": 0.0}, NAMES)
    calibration = fit(made).calibration_
    after = updated(calibration, whips(1, {}, 6, {"Orrin": 0.0}, NAMES, label="one more"))
    assert columns(after, "maker") == set()


def test_two_lots_of_two_whips_each_are_told_apart() -> None:
    made = in_lots(["2026-02"] * 5 + ["2026-07"] * 5, 0.06)
    model = fit(made)
    assert columns(model.calibration_, "lot") == {"lot:Ridge|2026-02", "lot:Ridge|2026-07"}
    thick = told(model, made[0], stack=of_lot(made[0].stack, "Ridge", "2026-07"))
    thin = told(model, made[0])
    assert 1.01 < thick.diameter_mm / thin.diameter_mm < 1.07
    for lot in ("2027-01", None):
        other = told(model, made[0], stack=of_lot(made[0].stack, "Ridge", lot))
        assert other.sd_log > thin.sd_log, "a lot that is not known or not noted may be any"


@pytest.mark.parametrize(
    "lots",
    [["2026-02"] * 6, ["2026-02"] * 5 + ["2026-07"], ["a", "b", "c", "d", "e", "f"]],
    ids=["one lot", "the second in one whip", "each whip its own"],
)
def test_lots_that_cannot_be_told_apart_change_nothing_but_a_finding(lots: list[str]) -> None:
    noted, plain = fit(in_lots(lots, 0.0)), fit(in_lots([None] * 6, 0.0))
    assert columns(noted.calibration_, "lot") == set()
    assert "lots-not-told-apart" in codes(noted)
    assert codes(noted) - codes(plain) == {"lots-not-told-apart"}
    at = in_lots(lots, 0.0)[3]
    assert told(noted, at).diameter_mm == told(plain, at).diameter_mm
    assert told(noted, at).sd_log == told(plain, at).sd_log


def test_lots_of_one_cord_leave_the_others_alone() -> None:
    made = in_lots(["2026-02", "2026-07"] * 3, 0.05)
    others = whips(6, {}, 8, names=["Fell", "Tarn"], label="other")
    model = fit([*made, *others])
    assert {name.split("|")[0] for name in columns(model.calibration_, "lot")} == {"lot:Ridge"}
    assert set(SIZES) >= {"Ridge", "Fell", "Tarn"}


def test_an_effect_is_there_only_where_its_level_occurs() -> None:
    """Unstated is rolled, and rolled by calipers has no column; waxed, girth and inner layers have one."""
    made = whips(4, {}, 9, names=NAMES)
    rolled = fit([replace(x, condition="rolled") if k % 2 else x for k, x in enumerate(made)])
    plain = fit(made)
    for block in ("condition", "method", "inner"):
        assert columns(rolled.calibration_, block) == columns(plain.calibration_, block) == set()
    assert told(rolled, made[0]).diameter_mm == told(plain, made[0]).diameter_mm
    waxed = fit([replace(x, condition="waxed") if k % 2 else x for k, x in enumerate(made)])
    assert columns(waxed.calibration_, "condition") == {"condition:waxed"}


def test_queries_need_not_know_what_the_fit_tells_apart() -> None:
    made = in_lots(["2026-02"] * 3 + ["2026-07"] * 3, 0.0)
    bare = Query(stack=whips(1, {}, 1, names=["Ridge"])[0].stack)
    assert fit(made).predict([bare])[0].diameter_mm > 0


def in_condition(count: int, condition: str | None, seed: int, label: str = "whip") -> list[Observation]:
    made = whips(count, {}, seed, names=NAMES, label=label)
    return [replace(x, condition=condition) for x in made]


def test_a_condition_that_all_share_has_no_effect_and_its_fit_is_that_of_rolled_whips_renamed() -> None:
    rolled, fresh = (fit(in_condition(6, condition, 1)) for condition in (None, "fresh"))
    assert columns(fresh.calibration_, "condition") == set()
    one = in_condition(1, None, 9)[2]
    as_rolled, as_fresh = told(rolled, one), told(fresh, one, condition="fresh")
    assert as_fresh.diameter_mm == pytest.approx(as_rolled.diameter_mm, rel=1e-12)
    assert as_fresh.sd_log == pytest.approx(as_rolled.sd_log, rel=1e-12)
    assert "of-one-kind" in codes(fresh)
    assert "of-one-kind" not in codes(rolled)


@pytest.mark.parametrize("condition", [None, "rolled", "waxed"])
def test_what_was_never_rolled_is_predicted_rolled_with_the_variance_of_conditions(
    condition: str | None,
) -> None:
    made = in_condition(6, "fresh", 1)
    model = fit(made)
    model = replace_fit(model, from_json(to_json(model.calibration_)))
    known, other = told(model, made[2]), told(model, made[2], condition=condition)
    assert other.diameter_mm == pytest.approx(known.diameter_mm, rel=1e-9)
    added = model.calibration_.parameters["sd_condition"] ** 2
    assert other.sd_log**2 - known.sd_log**2 == pytest.approx(added, rel=0.02)


def test_a_second_condition_gets_its_effect_once_it_occurs() -> None:
    first, second = in_condition(6, "fresh", 1), in_condition(6, None, 2, "second")
    thinner = [replace(x, diameter_mm=x.diameter_mm * 0.95) for x in second]
    both = fit([*first, *thinner])
    assert columns(both.calibration_, "condition") == {"condition:fresh"}
    later = replace_fit(both, updated(fit(first).calibration_, thinner))
    of_both = [
        told(model, first[2]).diameter_mm / told(model, first[2], condition=None).diameter_mm
        for model in (both, later)
    ]
    assert of_both[1] == pytest.approx(of_both[0], rel=0.01)
    assert of_both[0] > 1.02


def test_a_method_that_all_share_has_no_effect() -> None:
    made = [replace(x, method="girth") for x in whips(6, {}, 1, names=NAMES)]
    model = fit(made)
    assert columns(model.calibration_, "method") == set()
    plain = fit(whips(6, {}, 1, names=NAMES))
    more = told(model, made[2]).sd_log ** 2 - told(plain, made[2]).sd_log ** 2
    assert more == pytest.approx(model.calibration_.parameters["sd_method"] ** 2, rel=0.02)


def replace_fit(model: DiameterModel, calibration: Calibration) -> DiameterModel:
    other = DiameterModel(**model.get_params())
    other.calibration_ = calibration
    return other
