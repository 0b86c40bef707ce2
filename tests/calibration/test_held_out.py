"""What is held out beside whole whips: the rest of a whip, a fit to few whips, a sample of many."""

import numpy as np
import pytest

from plaitlog.models.calibration.cross_validation import cross_validate
from plaitlog.models.calibration.folds import few_whips_folds
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.rivals import GeometryAlone, OuterCordRatio
from plaitlog.models.geometry import geometric_diameter
from tests.calibration.plain_whips import Always, MeanDiameter, cord, overlay


@pytest.fixture(autouse=True)
def quick_rivals(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without gradient boosting, which takes most of the time and is not what these tests are about."""
    rivals = "plaitlog.models.calibration.held_out.all_rivals"
    monkeypatch.setattr(rivals, lambda random_state: (GeometryAlone(), OuterCordRatio()))


RIDGE, FELL = cord("Ridge 4 mm"), cord("Fell 3 mm", 3.0)


def pulled(whip: str, pull: float, count: int = 10, maker: str | None = None) -> list[Observation]:
    """Readings along a whip whose every diameter is exp(pull) times what geometry says."""
    stacks = [overlay(8 + 2 * (k % 3), RIDGE) for k in range(count)]
    return [
        Observation(
            stack=stack,
            diameter_mm=geometric_diameter(stack).diameter_mm * float(np.exp(pull)),
            whip=whip,
            at_mm=100.0 * k,
            maker=maker,
        )
        for k, stack in enumerate(stacks)
    ]


def notebook(count: int, sd: float = 0.1) -> list[Observation]:
    pulls = sd * np.random.default_rng(4).normal(size=count)
    return [reading for k, pull in enumerate(pulls.tolist()) for reading in pulled(f"w{k:02d}", pull)]


def test_on_the_rest_of_a_whip_each_rival_is_shifted_by_its_mean_residual_there() -> None:
    # Geometry is off by the whip's pull alone, so after the shift nothing of it is left.
    trials = cross_validate(notebook(12), Always(14.0, 0.2).fit, groupings=["whip"]).evidence
    new, rest = trials.trial("whip"), trials.trial("rest")
    assert new is not None
    assert rest is not None
    assert new.scores["geometry alone"].rmse_log > 0.05
    assert rest.scores["geometry alone"].rmse_log < 1e-9
    assert rest.scores["mean ratio of the outer cord"].rmse_log < 1e-9
    # Four of ten readings were taken, six of each whip are left to predict.
    assert rest.readings == 12 * 6
    assert [group.readings for group in rest.groups] == [6] * 12


def test_a_slip_among_the_readings_taken_shifts_nobody() -> None:
    found = notebook(12)
    k = next(k for k, one in enumerate(found) if one.whip == "w03")
    found[k] = Observation(**{**_fields(found[k]), "diameter_mm": found[k].diameter_mm / 10})
    rest = cross_validate(found, Always(14.0, 0.2).fit, groupings=["whip"]).evidence.trial("rest")
    assert rest is not None
    assert rest.scores["mean ratio of the outer cord"].rmse_log < 0.02


def _fields(observation: Observation) -> dict[str, object]:
    return {name: getattr(observation, name) for name in Observation.__dataclass_fields__}


def test_inner_readings_are_taken_first_and_never_judged_as_the_rest() -> None:
    found = [Observation(**{**_fields(one), "inner": (one.at_mm or 0) >= 600}) for one in notebook(10)]
    seen: list[tuple[bool, ...]] = []

    class Watching(Always):
        def predict(self, queries):  # type: ignore[no-untyped-def]
            seen.extend(tuple(x.inner for x in query.readings) for query in queries if query.readings)
            assert not any(query.inner for query in queries if query.readings)
            return super().predict(queries)

    cross_validate(found, lambda observations: Watching(14.0, 0.2), groupings=["whip"])
    assert set(seen) == {(True,) * 4}


def test_coverage_is_told_by_depth_and_by_known_and_new_cord_and_adds_up() -> None:
    found = [*notebook(10), *pulled("deep", 0.0)]
    inner = overlay(8, FELL).layers
    deep = [
        Observation(
            **{
                **_fields(one),
                "stack": type(one.stack)((*inner, *one.stack.layers), foundation_mm=8.0),
            }
        )
        for one in pulled("deeper", 0.0)
    ]
    trial = cross_validate([*found, *deep], Always(14.0, 0.2).fit, groupings=["whip"]).evidence.trials[0]
    by_depth = {one.level: one.readings for one in trial.covered if one.split == "depth"}
    assert by_depth == {"1": 110, "2": 10}
    by_cord = [one for one in trial.covered if one.split == "cord"]
    assert sum(one.readings for one in by_cord) == trial.readings
    for split in ("depth", "cord"):
        parts = [one for one in trial.covered if one.split == split]
        mean = sum(one.readings * one.coverage_90 for one in parts) / trial.readings
        assert mean == pytest.approx(trial.model.coverage_90)


def test_few_whips_teach_what_they_hold_and_judge_the_same_others() -> None:
    found = notebook(40)
    folds = few_whips_folds(found, (8, 20))
    eight, twenty = folds[8], folds[20]
    taught = [{found[i].whip for i in fold.train} for fold in (eight, twenty)]
    assert [len(whips) for whips in taught] == [8, 20]
    assert taught[0] < taught[1]
    assert eight.test.tolist() == twenty.test.tolist()
    assert not taught[1] & {found[i].whip for i in eight.test}
    assert few_whips_folds(found[:100], (8, 20)) == {}


def test_what_few_whips_would_have_taught_is_scored_on_the_same_others() -> None:
    told = cross_validate(notebook(60), MeanDiameter().fit, groupings=["whip"]).evidence.few_whips
    assert [one.whips for one in told] == [8, 20]
    assert told[0].readings == told[1].readings == 400


def test_evidence_on_a_sample_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("plaitlog.models.calibration.cross_validation.MOST_READINGS", 200)
    evidence = cross_validate(notebook(40), MeanDiameter().fit, groupings=["whip"]).evidence
    assert (evidence.readings, evidence.sample_readings, evidence.sample_whips) == (400, 200, 20)
    assert "Tested on 200 readings of 20 whips, drawn at random" in evidence.in_words()


def test_with_fewer_than_nine_makers_no_correction_is_claimed_and_the_words_say_so() -> None:
    found = [x for k in range(12) for x in pulled(f"w{k}", 0.3 * (k % 2), maker=("Orrin", "Tamsin")[k % 2])]
    crossed = cross_validate(found, Always(14.0, 0.01).fit, groupings=["whip", "maker"])
    trial = crossed.evidence.trial("maker")
    assert trial is not None
    assert trial.scale is None
    words = crossed.evidence.in_words()
    assert "with fewer than 9 makers held out no correction of them can be claimed, so take them as" in words
    assert crossed.scales.maker == crossed.scales.known > 1


def test_nine_makers_correct_the_intervals_of_a_tenth() -> None:
    rng = np.random.default_rng(1)
    found = [
        x
        for k in range(40)
        for x in pulled(f"w{k}", float(0.08 * rng.normal()), count=2, maker=f"maker {k % 20}")
    ]
    typical = float(np.exp(np.mean([np.log(one.diameter_mm) for one in found])))
    crossed = cross_validate(found, Always(typical, 0.02).fit, groupings=["maker"])
    assert crossed.scales.maker > 1.3
    assert crossed.evidence.trials[0].scale == crossed.scales.maker


def test_held_out_readings_to_draw_are_those_of_the_trial() -> None:
    evidence = cross_validate(notebook(12), Always(14.0, 0.2).fit, groupings=["whip"]).evidence
    assert len(evidence.held_out) == 120
    inside = [one.low_90_mm <= one.measured_mm <= one.high_90_mm for one in evidence.held_out]
    trial = evidence.trial("whip")
    assert trial is not None
    assert np.mean(inside) == pytest.approx(trial.model.coverage_90)
    assert "held_out" not in evidence.to_dict(with_held_out=False)
