"""Predictions: conditioning on readings of the same whip, intervals, findings, and odd input."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from plaitlog.models.calibration.calibrated import SLOTS, Calibration
from plaitlog.models.calibration.carried import NO_EFFECT
from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.observations import Observation, Query
from plaitlog.models.calibration.packed import pack
from plaitlog.models.calibration.prediction import (
    ROUNDS,
    Designer,
    predict,
    prior_calibration,
    whip_variances,
)
from plaitlog.models.calibration.readings import levels
from plaitlog.models.calibration.terms import both_terms, layer_terms, row_terms
from plaitlog.models.calibration.whip_effects import whip_columns
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Cord, exactly
from tests.calibration.laid_whips import CORDS, asked, laid, whips
from tests.calibration.test_resolve import STACKS

EFFECTS = {"Ridge": 0.10, "Fell": -0.08, "Scar": 0.12, "Beck": -0.12}


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    return DiameterModel().fit(whips(40, EFFECTS, seed=3)).calibration_


def of_one_whip(count: int = 13, factor: float = 1.0, seed: int = 20) -> list[Observation]:
    return [replace(o, diameter_mm=o.diameter_mm * factor) for o in whips(1, EFFECTS, seed=seed)[:count]]


def test_conditioning_narrows_and_follows_the_whip(calibration: Calibration) -> None:
    thick = of_one_whip(factor=1.05)
    taken = tuple(thick[:5])
    alone = predict(calibration, [asked(o) for o in thick[5:]])
    told = predict(calibration, [asked(o, taken) for o in thick[5:]])
    for before, after in zip(alone, told, strict=True):
        assert after.sd_log < 0.75 * before.sd_log
        assert after.diameter_mm > before.diameter_mm
    errors = np.log([p.diameter_mm / o.diameter_mm for p, o in zip(told, thick[5:], strict=True)])
    assert np.sqrt(np.mean(errors**2)) < 0.03


def test_conditioning_is_the_joint_normal_worked_out_densely(calibration: Calibration) -> None:
    """All columns of readings and question in one covariance, seen levels or not, no robust weights."""
    calibration = replace(calibration, parameters={**calibration.parameters, "freedom": 1e9})
    new = replace(CORDS["Tarn"], name="Never seen")
    whip = [
        replace(
            o,
            stack=Stack(tuple(replace(x, groups=(replace(x.groups[0], cord=new),)) for x in o.stack.layers)),
        )
        for o in of_one_whip(4)
    ]
    found = predict(calibration, [asked(whip[3], tuple(whip[:3]))], interval="true")[0]

    parameters = calibration.model_parameters
    packed = pack([o.stack for o in whip], parameters.geometry)
    alone = levels(["Orrin"] * 4, [None] * 4, ["caliper"] * 4, [False] * 4)
    # The fit knows one maker, whom nothing tells from another.
    terms = both_terms(layer_terms(packed), row_terms(replace(alone, maker=np.full(4, NO_EFFECT))))
    design = Designer(packed, terms, calibration.columns, parameters).at(
        calibration.coefficients, rounds=ROUNDS
    )
    own = whip_columns(packed, design, np.array([o.at_mm for o in whip], dtype=float), SLOTS)
    unseen = design.unseen.toarray()
    stated = {"unweighed": 0.12**2, "unmeasured_width": 0.06**2, "unpressed": 0.05**2}
    variances = np.array([{**stated, **calibration.variances}[b] for b in design.unseen_blocks])
    joint = design.rows @ calibration.covariance @ design.rows.T
    joint += own * whip_variances(calibration) @ own.T + unseen * variances @ unseen.T
    joint += np.diag(design.leftover) * calibration.variances["smooth"]
    mean = design.working + design.rows @ calibration.coefficients
    noise = calibration.variances["residual"] + (parameters.caliper_mm / design.resolved.diameter) ** 2
    gain = joint[3, :3] @ np.linalg.inv(joint[:3, :3] + np.diag(noise[:3]))
    miss = np.log([o.diameter_mm for o in whip[:3]]) - mean[:3]
    assert np.log(found.diameter_mm) == pytest.approx(mean[3] + gain @ miss, abs=1e-8)
    left = joint[3, 3] - gain @ joint[:3, 3] + calibration.variances["residual"] * calibration.noise
    assert found.sd_log == pytest.approx(np.sqrt(left), rel=1e-6)


def test_inner_readings_teach_the_layers_inside(calibration: Calibration) -> None:
    whip = of_one_whip()
    inside = tuple(
        replace(o, stack=Stack(o.stack.layers[:-1]), inner=True, diameter_mm=_inner_mm(calibration, o) * 1.08)
        for o in whip[:5]
    )
    alone = predict(calibration, [asked(o) for o in whip[:5]])
    told = predict(calibration, [asked(o, inside) for o in whip[:5]])
    assert all(
        b.diameter_mm > a.diameter_mm and b.sd_log < a.sd_log for a, b in zip(alone, told, strict=True)
    )


def _inner_mm(calibration: Calibration, o: Observation) -> float:
    query = Query(stack=Stack(o.stack.layers[:-1]), maker=o.maker, at_mm=o.at_mm, inner=True)
    return predict(calibration, [query])[0].diameter_mm


def test_one_mistyped_reading_does_not_drag_the_whip_along(calibration: Calibration) -> None:
    whip = of_one_whip()
    good = tuple(whip[:6])
    bad = (*good[:5], replace(good[5], diameter_mm=good[5].diameter_mm * 10))
    alone = predict(calibration, [asked(o) for o in whip[6:]])
    right = predict(calibration, [asked(o, good) for o in whip[6:]])
    dragged = predict(calibration, [asked(o, bad) for o in whip[6:]])
    for a, b, c in zip(alone, right, dragged, strict=True):
        assert abs(np.log(c.diameter_mm / b.diameter_mm)) < 0.02
        assert c.sd_log < a.sd_log


def test_queries_do_not_depend_on_their_neighbours(calibration: Calibration) -> None:
    whip = of_one_whip()
    taken = tuple(whip[:4])
    mixed = [asked(whip[8]), asked(whip[9], taken), asked(whip[10]), asked(whip[11], taken)]
    together = predict(calibration, mixed)
    for query, found in zip(mixed, together, strict=True):
        single = predict(calibration, [query])[0]
        assert single.diameter_mm == pytest.approx(found.diameter_mm, rel=1e-12)
        assert single.sd_log == pytest.approx(found.sd_log, rel=1e-9)


def test_order_is_kept_over_many_batches(calibration: Calibration) -> None:
    whip = of_one_whip()
    many = predict(calibration, [asked(o) for o in whip] * 400)
    single = predict(calibration, [asked(o) for o in whip])
    assert [p.diameter_mm for p in many[13 * 399 :]] == pytest.approx([p.diameter_mm for p in single])
    assert len(many) == 13 * 400


def test_the_diameter_itself_is_surer_than_the_next_reading(calibration: Calibration) -> None:
    query = [asked(of_one_whip()[12])]
    itself = predict(calibration, query, interval="true")[0]
    reading = predict(calibration, query)[0]
    assert itself.diameter_mm == reading.diameter_mm
    caliper = calibration.parameters["caliper_mm"] / reading.diameter_mm
    assert reading.sd_log**2 - itself.sd_log**2 == pytest.approx(caliper**2, rel=0.01)


def test_intervals_are_nested_and_equal_tailed(calibration: Calibration) -> None:
    for p in predict(calibration, [asked(o) for o in of_one_whip()]):
        assert p.low_90_mm < p.low_50_mm < p.diameter_mm < p.high_50_mm < p.high_90_mm
        assert p.low_90_mm * p.high_90_mm == pytest.approx(p.diameter_mm**2)
        assert np.log(p.high_90_mm / p.diameter_mm) == pytest.approx(1.6448536 * p.sd_log)


def test_a_correction_widens_intervals_and_leaves_the_sd(calibration: Calibration) -> None:
    wide = calibration.with_interval_scales(known=1.5, new=2.0)
    query = asked(of_one_whip()[0])
    new = StackLayer(role="overlay", groups=(StrandGroup(replace(CORDS["Tarn"], name="New"), exactly(8)),))
    for each, factor in ((query, 1.5), (replace(query, stack=Stack((new,))), 2.0)):
        before, after = (predict(c, [each])[0] for c in (calibration, wide))
        assert after.sd_log == before.sd_log
        assert np.log(after.high_90_mm / after.diameter_mm) == pytest.approx(
            factor * np.log(before.high_90_mm / before.diameter_mm)
        )


@settings(deadline=None)
@given(STACKS)
def test_whatever_the_stack_the_answer_is_a_number(stacks: list[Stack]) -> None:
    for p in predict(prior_calibration(), [Query(stack=stack) for stack in stacks]):
        numbers = [p.diameter_mm, p.sd_log, p.low_50_mm, p.high_50_mm, p.low_90_mm, p.high_90_mm]
        assert np.isfinite(numbers).all()
        assert min(numbers) > 0


def test_a_cord_of_which_no_size_is_known_gets_an_answer_and_a_finding(calibration: Calibration) -> None:
    bare = Cord(name="Nameless", material="unheard of", construction="solid")
    weighed = replace(bare, name="Weighed", linear_density_g_per_m=6.6)
    found = predict(
        calibration, [Query(stack=Stack((laid("overlay", c, 8, 1),)), maker="Orrin") for c in (bare, weighed)]
    )
    assert {"new-cord", "cord-not-weighed"} <= {f.code for f in found[0].findings}
    assert "cord-not-weighed" not in {f.code for f in found[1].findings}
    assert found[0].sd_log > found[1].sd_log


def test_gaps_bunching_and_what_was_never_recorded_are_pointed_out(calibration: Calibration) -> None:
    def codes(strands: int, inner: float) -> set[str]:
        stack = Stack((laid("overlay", CORDS["Ridge"], strands, 1),), inner)
        return {f.code for f in predict(calibration, [Query(stack=stack, maker="Orrin")])[0].findings}

    assert "cover-low" in codes(8, 14.0)
    assert "cover-high" in codes(24, 6.0)
    assert "outside-experience" in codes(60, 60.0)
    assert codes(14, 9.0) == set()


def test_cover_is_that_of_the_outermost_plait(calibration: Calibration) -> None:
    whole = of_one_whip()[0]
    outer = predict(calibration, [asked(whole)])[0].cover
    inner = predict(calibration, [replace(asked(whole), stack=Stack(whole.stack.layers[:-1]))])[0].cover
    assert outer is not None
    assert inner is not None
    assert outer != inner
    bundle = Stack((laid("core", CORDS["Ridge"], 6, 1),))
    assert predict(calibration, [Query(stack=bundle)])[0].cover is None


def test_nothing_asked_nothing_answered(calibration: Calibration) -> None:
    assert predict(calibration, []) == []
