"""Readings that cannot teach what is asked: findings in words, wide intervals, never NaN, never a crash."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from plaitlog.models.calibration import diameter
from plaitlog.models.calibration.artifact import from_json, to_json
from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.copied import distinct
from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.learning import Learnt, learn_all
from plaitlog.models.calibration.observations import Observation, Prediction, Query
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.readings import Readings, readings
from plaitlog.models.stack import Stack
from tests.calibration.laid_whips import CORDS, asked, laid, whips

ORDINARY = whips(30, {"Ridge": 0.1, "Fell": -0.08}, 1)
ONE = ORDINARY[:13]
TAKEN = ("Ridge", "Fell")


def overlay(cord: str, strands: int = 12, over: str = "Ridge") -> Stack:
    return Stack((laid("core", CORDS[over], 4, 1), laid("overlay", CORDS[cord], strands, 2)))


def of_one(cord: str, others: Sequence[str], count: int = 20) -> list[Observation]:
    return whips(count, {}, 2, names=[cord, *others])


def only_inside(cord: str) -> list[Observation]:
    """Whips with this cord as their core, plaited of two others."""
    made = whips(20, {}, 3, names=TAKEN)

    def cored(stack: Stack) -> Stack:
        return Stack(
            tuple(
                laid(x.role, CORDS[cord], x.count.mid, x.slot) if x.role == "core" else x
                for x in stack.layers
            )
        )

    return [replace(x, stack=cored(x.stack)) for x in made]


def always_together() -> list[Observation]:
    """Every layer half of Tarn and half of Scar, whose sizes differ."""

    def mixed(stack: Stack) -> Stack:
        return Stack(
            tuple(
                replace(
                    x,
                    groups=tuple(
                        laid(x.role, CORDS[name], x.count.mid / 2, x.slot).groups[0]
                        for name in ("Tarn", "Scar")
                    ),
                )
                for x in stack.layers
            )
        )

    made = whips(20, {}, 4, names=["Tarn"])
    return [replace(x, stack=mixed(x.stack)) for x in made]


def at_one_station(observations: Sequence[Observation]) -> list[Observation]:
    return [x for x in observations if x.at_mm == 300.0]


CASES: dict[str, Callable[[], list[Observation]]] = {
    "one reading": lambda: ORDINARY[:1],
    "one whip": lambda: ONE,
    "one cord": lambda: of_one("Ridge", []),
    "constant readings": lambda: [replace(x, diameter_mm=12.0) for x in ORDINARY],
    "constant readings of a test plait": lambda: [
        replace(ONE[0], at_mm=10.0 * k, diameter_mm=12.0) for k in range(6)
    ],
    "one station": lambda: at_one_station(ORDINARY),
    "no station": lambda: [replace(x, at_mm=None) for x in ORDINARY],
    "every row five times": lambda: ORDINARY[:65] * 5,
    "a cord only inside": lambda: only_inside("Beck"),
    "two cords always together": always_together,
    "a maker with one whip": lambda: [
        *ORDINARY, *whips(1, {}, 5, {"Tamsin": 0.05}, label="hers")
    ],
    "all doubtful": lambda: [replace(x, doubtful=True) for x in ORDINARY[:65]],
    "sizes of a thousandth and of a thousand": lambda: [
        replace(x, diameter_mm=x.diameter_mm * (1e-3 if k % 2 else 1e3)) for k, x in enumerate(ORDINARY[:65])
    ],
}  # fmt: skip

QUERIES = [
    *(asked(x) for x in ORDINARY[:13:4]),
    Query(stack=overlay("Moor"), maker="Orrin"),
    Query(stack=overlay("Ridge", 32), maker="Orrin"),
    Query(stack=overlay("Beck"), maker="Fenn", condition="waxed", at_mm=5000.0),
    Query(stack=overlay("Ridge"), maker=None, readings=(ONE[3], ONE[4])),
]


def fit(observations: Sequence[Observation]) -> DiameterModel:
    return DiameterModel().fit(observations)


def told(model: DiameterModel, stack: Stack, maker: str = "Orrin") -> Prediction:
    return model.predict([Query(stack=stack, maker=maker)])[0]


def said(found: DiameterModel | Prediction) -> dict[str, str]:
    findings = found.findings if isinstance(found, Prediction) else found.calibration_.findings
    return {finding.code: str(finding) for finding in findings}


@pytest.mark.parametrize("case", CASES)
def test_every_prediction_is_a_number_with_an_interval_around_it(case: str) -> None:
    """Warnings are errors here, so that nothing overflows on the way either; a stored fit says the same."""
    model = fit(CASES[case]())
    calibration = model.calibration_
    assert np.isfinite(calibration.coefficients).all()
    assert np.isfinite(calibration.covariance).all()
    assert all(math.isfinite(x) and x >= 0 for x in calibration.variances.values())
    assert np.isfinite(model.weights_).all()
    found = model.predict(QUERIES)
    for x in found:
        sizes = (x.low_90_mm, x.low_50_mm, x.diameter_mm, x.high_50_mm, x.high_90_mm)
        assert all(0 < a < b < math.inf for a, b in pairwise(sizes))
    again = DiameterModel()
    again.calibration_ = from_json(to_json(calibration))
    assert [x.diameter_mm for x in again.predict(QUERIES)] == pytest.approx([x.diameter_mm for x in found])


@pytest.mark.parametrize(
    ("case", "codes"),
    [
        ("one reading", {"little-data"}),
        ("one whip", {"little-data"}),
        ("constant readings", {"constant-readings", "nothing-learnt"}),
        ("constant readings of a test plait", {"constant-readings"}),
        ("one station", {"one-station"}),
        ("every row five times", {"readings-twice", "little-data"}),
        ("two cords always together", {"cords-together"}),
        ("a maker with one whip", {"makers-not-told-apart"}),
    ],
)
def test_a_fit_says_what_its_readings_cannot_tell(case: str, codes: set[str]) -> None:
    found = said(fit(CASES[case]()))
    assert codes <= set(found)
    words = " ".join(found.values())
    for term in ("component", "variance", "singular", "matrix", "gradient", "deviation"):
        assert term not in words, "a maker reads this"


def test_an_ordinary_workshop_is_left_in_peace() -> None:
    assert said(fit(ORDINARY)) == {}


@pytest.mark.parametrize(
    ("case", "query"),
    [
        ("one reading", asked(ORDINARY[6])),
        ("one whip", asked(ORDINARY[6])),
        ("one cord", Query(stack=overlay("Fell"), maker="Orrin")),
        ("constant readings", asked(ORDINARY[6])),
        ("one station", asked(ORDINARY[12])),
        ("a cord only inside", Query(stack=overlay("Beck"), maker="Orrin")),
        ("two cords always together", Query(stack=overlay("Tarn", over="Scar"), maker="Orrin")),
    ],
)
def test_what_was_not_taught_has_a_wide_interval(case: str, query: Query) -> None:
    """Wider than that of the same question after ordinary readings."""
    usual = fit(ORDINARY).predict([query])[0]
    assert fit(CASES[case]()).predict([query])[0].sd_log > 1.15 * usual.sd_log


def test_rows_written_five_times_teach_as_much_as_once() -> None:
    once, often = (fit(ORDINARY[:65] * n).predict(QUERIES) for n in (1, 5))
    assert [x.sd_log for x in often] == pytest.approx([x.sd_log for x in once], rel=1e-6)
    assert [x.diameter_mm for x in often] == pytest.approx([x.diameter_mm for x in once], rel=1e-6)


def test_calipers_that_agree_at_right_angles_count_twice() -> None:
    """A few equal pairs among a whip's readings are repeats, not a copied page."""
    pairs = [*ORDINARY, *(x for k, x in enumerate(ORDINARY) if k % 4 == 0)]
    rows, of_row, remarks = distinct(readings(pairs))
    assert remarks == ()
    assert rows.tolist() == of_row.tolist() == list(range(len(pairs)))


def test_a_page_copied_under_another_label_is_named_and_stays() -> None:
    page = [replace(x, whip="copy") for x in reversed(ONE)]
    assert f"copy as {ONE[0].whip}" in said(fit([*ORDINARY, *page]))["readings-copied"]
    other = [*page[:-1], replace(page[-1], diameter_mm=page[-1].diameter_mm + 0.1)]
    assert "readings-copied" not in said(fit([*ORDINARY, *other]))
    assert "readings-copied" not in said(fit([*ORDINARY, *page[:4]])), "four sizes may agree by chance"


def test_copies_among_many_thousand_readings_are_found(monkeypatch: pytest.MonkeyPatch) -> None:
    many = whips(400, {}, 5)
    page = [replace(x, whip="copy") for x in many[-13:]]
    rows, _, remarks = distinct(readings([*many, *page, *many[26:39]]))
    assert len(rows) == len(many) + len(page)
    assert [x.code for x in remarks] == ["readings-twice", "readings-copied"]
    assert "whip 2 " in remarks[0].text
    assert "copy as whip 399" in remarks[1].text

    taught: list[int] = []

    def at_scale(data: Readings, parameters: Parameters, start: Calibration | None) -> Learnt:
        taught.append(len(data))
        return learn_all(data, parameters, start)

    monkeypatch.setattr(diameter, "SAMPLE", 100)
    monkeypatch.setattr(diameter, "learn_at_scale", at_scale)
    model = fit([*ORDINARY, *ORDINARY[26:39]])
    assert taught == [len(ORDINARY)]
    assert len(model.weights_) == len(ORDINARY) + 13


def test_equal_readings_that_a_hand_did_take_all_count() -> None:
    """At other stations, of other whips, on other layers: none of these is a copy."""
    first = ONE[0]
    others = [
        first,
        replace(first, at_mm=10.0),
        replace(first, whip="another"),
        replace(first, stack=Stack(first.stack.layers[:2]), inner=True),
        replace(first, condition="waxed"),
        replace(first, at_mm=None),
        replace(first, at_mm=None),
    ]
    assert "readings-twice" not in said(fit([*ONE[1:], *others]))


def test_constant_readings_leave_the_geometry_standing() -> None:
    """Twelve millimetres at butt and point teach neither that a whip has no taper nor that it is certain."""
    model = fit(CASES["constant readings"]())
    butt, point = (told(model, ONE[k].stack).diameter_mm for k in (0, 12))
    assert butt > 1.5 * point
    assert told(model, ONE[0].stack).sd_log > 3 * told(fit(ORDINARY), ONE[0].stack).sd_log


def test_a_cord_that_was_only_inside_is_told_where_it_is_plaited() -> None:
    model = fit(only_inside("Beck"))
    plaited, inside = told(model, overlay("Beck", over="Beck")), told(model, overlay("Ridge", over="Beck"))
    assert "Beck was only recorded inside, never plaited" in said(plaited)["role-not-seen"]
    assert "role-not-seen" not in said(inside)
    assert plaited.sd_log > 1.15 * inside.sd_log


def test_cords_that_were_always_together_are_sure_together_only() -> None:
    made = always_together()
    model = fit(made)
    assert "Scar and Tarn" in said(model)["cords-together"]
    alone, both = told(model, overlay("Tarn", over="Scar")), told(model, made[12].stack)
    assert alone.sd_log > 1.15 * both.sd_log


def test_a_maker_with_one_whip_is_no_better_known_than_one_with_none() -> None:
    model = fit(CASES["a maker with one whip"]())
    hers, nobodys = told(model, overlay("Ridge"), "Tamsin"), told(model, overlay("Ridge"), "Fenn")
    assert "new-maker" in said(nobodys)
    assert hers.sd_log > 1.15 * told(model, overlay("Ridge"), "Orrin").sd_log
    assert 0.8 < hers.sd_log / nobodys.sd_log <= 1.0 + 1e-9


@pytest.mark.parametrize("strands", [32, 2])
def test_counts_never_seen_are_an_extrapolation_and_said_to_be_one(strands: int) -> None:
    model = fit(ORDINARY)
    beyond, usual = told(model, overlay("Ridge", strands)), told(model, overlay("Ridge", 12))
    assert "outside of all that was recorded" in said(beyond)["outside-experience"]
    assert "outside-experience" not in said(usual)
    assert beyond.sd_log > 1.15 * usual.sd_log
