"""What is missing in a whole workshop: ranked in one currency, and worth what is said."""

import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import pytest
from sqlalchemy import Engine

from plaitlog.models.calibration.artifact import from_json, to_json
from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.gain import variance_losses
from plaitlog.models.calibration.prediction import Observation, Prediction, Query
from plaitlog.seed_demo import workshop as demo_workshop
from plaitlog.seed_demo.cords import NEVER_PLAITED
from plaitlog.service.database import reading, writing
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.fitting import gather, store, work_out
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.missing.gap_cords import filled_in, measurements, plait_to_try, with_cord
from plaitlog.service.usecases.missing.gap_targets import targets
from plaitlog.service.usecases.missing.gap_whips import facts_to_look_up
from plaitlog.service.usecases.missing.gaps import Gaps, gaps
from plaitlog.service.usecases.observing import observe
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.predicting import InForce, fit_in_force
from plaitlog.service.usecases.workshop import cords_by_name, whips
from tests.usecases.examples import FELL, RIDGE, STOCK, WORKSHOP
from tests.usecases.holed_whips import CORDS, CORE, INCHES, MILLIMETRES, having, layer


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    """The invented workshop with a fit in force."""
    engine, _ = ready_engine(str(tmp_path_factory.mktemp("gaps") / "demo.db"))
    with writing(engine) as session:
        demo_workshop.seed(session)
    with reading(engine) as session:
        worked = work_out(gather(session), with_evidence=False)
    with writing(engine) as session:
        store(session, worked)
    yield engine
    engine.dispose()


@pytest.fixture(scope="module")
def found(demo: Engine) -> Gaps:
    began = time.perf_counter()
    with reading(demo) as session:
        found = gaps(session)
    assert time.perf_counter() - began < 10  # about two seconds on an idle machine
    return found


def test_the_cord_that_was_never_plaited_is_worth_most(found: Gaps) -> None:
    first = found.gaps[0]
    assert (first.kind, first.about) == ("test plait", NEVER_PLAITED)
    assert first.there > 0.05 > first.narrower > 0.001
    worths = [gap.narrower for gap in found.gaps]
    assert worths == sorted(worths, reverse=True)
    assert {"test plait", "whip"} <= {gap.kind for gap in found.gaps}
    assert 0 < found.floor_mm < found.half_width_mm


def test_every_gap_is_told_with_a_figure_and_what_to_do(found: Gaps) -> None:
    lines = list(found.lines(INCHES, 50))
    assert sum("%" in line for line in lines) >= len(found.gaps)
    assert all("None" not in line for line in lines)
    assert any("plait 16 strands of it for 8 in over a rod of about" in line for line in lines)
    assert any("for 200 mm over a rod" in line for line in found.lines(MILLIMETRES, 50))
    assert len(list(found.lines(INCHES, 1))) < len(lines)
    assert found.to_json(INCHES, 3)["of"] == len(found.gaps)


def test_facts_free_the_readings_that_are_counted(demo: Engine, found: Gaps) -> None:
    with reading(demo) as session:
        cords = cords_by_name(session)
        known = [placed(whip) for whip in whips(session) if whip.status != "planned"]
    unusable = sum(len(observe(whip, cords)[1]) for whip in known)
    assert unusable == found.unusable
    singles = [
        max(
            (x.readings for x in facts_to_look_up(whip, cords) if x.kind == "whip" and x.facts == 1),
            default=0,
        )
        for whip in known
    ]
    assert sum(singles) == found.freed_by_one > 0


def test_promises_hold_when_the_fit_is_made_again(demo: Engine) -> None:
    """A test plait narrows its cord; a measurement of a cord with many readings changes next to nothing."""
    with reading(demo) as session:
        cords, observations = cords_by_name(session), gather(session).observations
        in_force = fit_in_force(session)
        everything = [placed(whip) for whip in whips(session)]
    aims = targets(everything, cords, frozenset(cords))
    queries = [x.query for x in aims]
    there = [k for k, x in enumerate(aims) if NEVER_PLAITED in x.cords]
    trial = plait_to_try(cords[NEVER_PLAITED], "Orrin")
    (losses,) = variance_losses(in_force.calibration, queries, [trial])
    as_expected = in_force.predict(
        [Query(stack=x.stack, maker=x.maker, at_mm=x.at_mm) for x in trial.readings]
    )
    came = [replace(x, diameter_mm=p.diameter_mm) for x, p in zip(trial.readings, as_expected, strict=True)]
    again = refitted([*observations, *came], in_force)
    was, now = (sum_of_sds(each, [queries[k] for k in there]) for each in (in_force, again))
    before = predicted(in_force, queries, there)
    expected = sum((p.sd_log**2 - losses[k]) ** 0.5 for k, p in zip(there, before, strict=True))
    assert (was - expected) == pytest.approx(was - now, rel=0.3)

    scar = cords["Scar 4.5 mm"]
    with_scar = [k for k, x in enumerate(aims) if scar.name in x.cords]
    weighed = next(x for x in measurements(in_force, [scar], aims) if "weight per metre" in x.what(INCHES))
    assert weighed.losses is not None
    before = predicted(in_force, queries, with_scar)
    promised = [weighed.losses[k] / p.sd_log**2 for k, p in zip(with_scar, before, strict=True)]
    full = filled_in(scar, "linear_density_g_per_m")
    swapped = [replace(x, stack=with_cord(Query(stack=x.stack), scar.name, full).stack) for x in observations]
    known = refitted(swapped, in_force)
    after = known.predict([with_cord(queries[k], scar.name, full) for k in with_scar])
    real = [1 - now.sd_log**2 / was.sd_log**2 for was, now in zip(before, after, strict=True)]
    assert max(promised) < 0.03
    assert sum(promised) / len(promised) == pytest.approx(sum(real) / len(real), abs=0.02)


def refitted(observations: Sequence[Observation], in_force: InForce) -> InForce:
    model = DiameterModel().fit(observations, start=in_force.calibration)
    return InForce(from_json(to_json(model.calibration_)), 2)


def predicted(in_force: InForce, queries: list[Query], which: list[int]) -> list[Prediction]:
    return in_force.predict([queries[k] for k in which])


def sum_of_sds(in_force: InForce, queries: list[Query]) -> float:
    return sum(p.sd_log for p in in_force.predict(queries))


def lines_of(engine: Engine, *records: dict[str, Any]) -> list[str]:
    if records:
        with writing(engine) as session:
            take_records(session, list(records))
    with reading(engine) as session:
        return list(gaps(session).lines(INCHES, 20))


def test_an_empty_workshop_says_what_to_do_first(sqlite_engine: Engine) -> None:
    assert lines_of(sqlite_engine) == [
        "Nothing to weigh yet: record cords and whips first (record, import FILE)."
    ]


def test_cords_alone_are_weighed_on_a_typical_stack(sqlite_engine: Engine) -> None:
    lines = lines_of(sqlite_engine, RIDGE, FELL, STOCK)
    assert any("Ridge 4 mm: never read, 140 m in stock" in line for line in lines)
    assert any("its weight per metre is not measured" in line for line in lines) is False  # it has one


def test_readings_that_wait_for_a_fit_are_told_first(engine: Engine) -> None:
    lines = lines_of(engine, *WORKSHOP)
    assert "wait for a fit: run fit first" in lines[0]
    assert any("No fit can use 3 readings" in line for line in lines)


def test_a_fact_about_a_whip_says_how_many_readings_want_it() -> None:
    whip = having(layers=(CORE, layer("overlay", "mm: 16B; 500: -2 cut; ?")), layers_complete=True)
    counts = {each.what(INCHES): each.readings for each in facts_to_look_up(whip, CORDS)}
    assert counts == {
        "S-1: the overlay's count at the middle, for 1 reading that no fit can use": 1,
        "S-1: the overlay's count at the point, for 2 readings that no fit can use": 2,
    }


def test_a_place_noted_roughly_is_a_gap_of_its_own() -> None:
    whip = having(layers=(CORE, layer("overlay", "mm: 16B; 700..1000: -4 cut; p")))
    (gap,) = facts_to_look_up(whip, CORDS)
    assert (gap.kind, gap.readings) == ("place", 1)
    assert "where the overlay falls from 16 to 12 strands, noted roughly, under 1 reading" in gap.what(INCHES)
