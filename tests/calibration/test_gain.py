"""What further readings would teach, told beforehand, against the same told by other means."""

from dataclasses import replace

import numpy as np
import pytest

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.gain import Trial, cord_parts, floor_variances, variance_losses
from plaitlog.models.calibration.observations import Observation, Query
from plaitlog.models.calibration.prediction import predict
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Span, exactly
from tests.calibration.laid_whips import CORDS, asked, whips

EFFECTS = {"Ridge": 0.10, "Fell": -0.08, "Scar": 0.12, "Beck": -0.12}
"""Tarn lies in none of these whips."""


@pytest.fixture(scope="module")
def recorded() -> list[Observation]:
    return whips(12, EFFECTS, seed=5, names=tuple(EFFECTS))


@pytest.fixture(scope="module")
def calibration(recorded: list[Observation]) -> Calibration:
    return DiameterModel().fit(recorded).calibration_


def over_rod(cord: str, count: float, foundation_mm: float, spread: float = 0.0) -> Stack:
    span = Span(count - spread, count + spread) if spread else exactly(count)
    return Stack((StackLayer(role="overlay", groups=(StrandGroup(CORDS[cord], span),)),), foundation_mm)


def read(stack: Stack, at_mm: float | None = None) -> Observation:
    return Observation(stack=stack, diameter_mm=15.0, whip="to come", at_mm=at_mm)


TARGETS = [Query(stack=over_rod(name, count, 9.0)) for name in ("Tarn", "Ridge") for count in (12, 16)]


def test_a_loss_is_what_conditioning_takes_away_where_whips_do_not_differ(calibration: Calibration) -> None:
    """With no pull of a whip's own, another whip's readings tell as much as readings of the same whip."""
    alike = replace(
        calibration,
        parameters={**calibration.parameters, "freedom": 1e12},
        variances={**calibration.variances, "whip": 0.0, "drift": 0.0, "slot": 0.0},
    )
    taken = (read(over_rod("Tarn", 16, 8.0), 50.0), read(over_rod("Tarn", 14, 8.0, spread=2.0), 100.0))
    (losses,) = variance_losses(alike, TARGETS, [Trial(taken)])
    before = predict(alike, TARGETS)
    after = predict(alike, [replace(query, readings=taken) for query in TARGETS])
    wanted = [was.sd_log**2 - now.sd_log**2 for was, now in zip(before, after, strict=True)]
    assert losses == pytest.approx(wanted, rel=1e-6)
    assert min(losses) > 0


def test_a_test_plait_narrows_as_much_as_promised_once_it_is_fitted(
    calibration: Calibration, recorded: list[Observation]
) -> None:
    """A cord never seen: the promise beside a fit made anew with the readings, on stacks of that cord."""
    trial = Trial(tuple(read(over_rod("Tarn", 16, 8.0), at) for at in (50.0, 100.0, 150.0)))
    (losses,) = variance_losses(calibration, TARGETS, [trial])
    expected = predict(calibration, [asked(o) for o in trial.readings])
    came = [replace(o, diameter_mm=p.diameter_mm) for o, p in zip(trial.readings, expected, strict=True)]
    again = DiameterModel().fit([*recorded, *came]).calibration_
    for k in (0, 1):
        was, now = (predict(each, TARGETS)[k].sd_log for each in (calibration, again))
        assert was**2 - losses[k] == pytest.approx(now**2, rel=0.15)
        assert now < 0.85 * was
    assert losses[2] < losses[0] / 3  # it tells little about another cord


def test_more_readings_never_tell_less_and_other_whips_tell_more(calibration: Calibration) -> None:
    stacks = [over_rod("Tarn", n, 8.0) for n in (12, 14, 16, 18)]
    growing = [Trial(tuple(map(read, stacks[:n]))) for n in (1, 2, 3, 4)]
    losses = variance_losses(calibration, TARGETS, growing)
    assert (np.diff(losses, axis=0) > -1e-12).all()
    variance = np.array([p.sd_log**2 for p in predict(calibration, TARGETS)])
    assert (losses < variance - floor_variances(calibration, TARGETS) + 1e-12).all()


def test_an_exact_place_adds_only_what_the_rough_one_left(calibration: Calibration) -> None:
    exact, rough = read(over_rod("Tarn", 14, 8.0)), read(over_rod("Tarn", 14, 8.0, spread=4.0))
    trials = [
        Trial((exact,)),
        Trial((exact,), (rough,)),
        Trial((exact,), (replace(rough, stack=over_rod("Tarn", 14, 8.0, spread=1.0)),)),
        Trial((exact,), (exact,)),
    ]
    new, from_rough, from_nearly, from_itself = variance_losses(calibration, TARGETS, trials)[:, 0]
    assert new > from_rough > from_nearly > from_itself
    assert from_itself == pytest.approx(0.0, abs=1e-9)


def test_a_cord_never_seen_is_known_by_its_prior_alone(calibration: Calibration) -> None:
    across, own = cord_parts(calibration, TARGETS, CORDS["Tarn"].name)
    assert across[:2] == pytest.approx(own[:2])
    assert (own[:2] > 0).all()
    assert own[2:] == pytest.approx([0.0, 0.0])
    across, own = cord_parts(calibration, TARGETS, CORDS["Ridge"].name)
    assert own[2] > abs(across[2])  # what readings say of it is said of other effects too


def test_no_trials_or_targets_lose_nothing(calibration: Calibration) -> None:
    assert variance_losses(calibration, TARGETS, []).shape == (0, 4)
    assert variance_losses(calibration, [], [Trial((read(over_rod("Tarn", 12, 8.0)),))]).shape == (1, 0)
