"""Fits over time: compared, put back, one whip added, the latest whips held against the others."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from sqlalchemy import Engine, select, update

from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.errors import AlreadyThereError, FitError, InputError, NotFoundError
from plaitlog.models.tables import FitRow
from plaitlog.service.database import reading, writing
from plaitlog.service.usecases.adding_to_fit import Added, add_whip, store_added
from plaitlog.service.usecases.comparing_fits import Comparison, compare
from plaitlog.service.usecases.cords.worth import typical
from plaitlog.service.usecases.drift import Drift, drift
from plaitlog.service.usecases.fitting import gather, list_fits, put_in_force, store, work_out
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.predicting import InForce, fit_in_force
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import cords_by_name
from tests.usecases.test_reporting_fit import CORDS, whip

MM = ShownUnits("mm", "mm")
MIDDLE_MM = (15.2, 15.2, 15.2, 15.2, 14.8, 14.2, 14.2, 14.2)
"""About what geometry alone gives at the stations of these whips: they get thinner where strands end."""


def pulled(number: int, factor: float = 1.0, **keys: Any) -> dict[str, Any]:
    """A whip of the workshop, made on its own day, that comes out thicker by a factor than others do."""
    record = whip(number)
    rng = np.random.default_rng(number)
    pull = 1.05 * factor * np.exp(0.02 * rng.normal())
    for one, middle in zip(record["readings"], MIDDLE_MM, strict=True):
        one["diameter_mm"] = round(middle * float(pull * np.exp(0.012 * rng.normal())), 2)
    return {**record, "made_on": f"2025-{1 + number // 28:02d}-{1 + number % 28:02d}", **keys}


def take(engine: Engine, *records: dict[str, Any]) -> None:
    with writing(engine) as session:
        take_records(session, [*CORDS, *records])


def fitted(engine: Engine, *records: dict[str, Any]) -> int:
    take(engine, *records)
    with reading(engine) as session:
        worked = work_out(gather(session), with_evidence=False)
    with writing(engine) as session:
        return store(session, worked)


def added(engine: Engine, label: str) -> tuple[int, Added]:
    with reading(engine) as session:
        found = add_whip(session, label)
    with writing(engine) as session:
        return store_added(session, found), found


def checked(engine: Engine) -> Drift:
    with reading(engine) as session:
        return drift(session)


def compared(engine: Engine, before: int, after: int) -> Comparison:
    with reading(engine) as session:
        return compare(session, before, after)


def in_force(engine: Engine) -> InForce:
    with reading(engine) as session:
        return fit_in_force(session)


def predicted(engine: Engine) -> list[tuple[float, float, float]]:
    with reading(engine) as session:
        cords = cords_by_name(session)
        told = fit_in_force(session).predict([typical(cord, 16, "Orrin") for cord in cords.values()])
    return [(one.diameter_mm, one.low_90_mm, one.high_90_mm) for one in told]


def test_an_earlier_fit_put_back_predicts_exactly_what_it_did(engine: Engine) -> None:
    first = fitted(engine, *(pulled(k) for k in range(5)))
    before = predicted(engine)
    second = fitted(engine, *(pulled(k, factor=1.06) for k in range(5, 9)))
    assert predicted(engine) != before
    with writing(engine) as session:
        put_in_force(session, first)
    assert predicted(engine) == before
    assert in_force(engine).number == first
    with reading(engine) as session:
        assert {fit.number: fit.current for fit in list_fits(session)} == {first: True, second: False}


def test_two_fits_are_compared_where_it_matters(engine: Engine) -> None:
    first = fitted(engine, *(pulled(k) for k in range(5)))
    second = fitted(engine, *(pulled(k, factor=1.08) for k in range(5, 10)))
    told = compared(engine, first, second)
    assert (told.readings, told.whips) == ((40, 80), (5, 10))
    assert told.new_whips == tuple(f"w{k:02d}" for k in range(5, 10))
    assert told.gone_whips == ()
    by_name = {cord.cord: cord for cord in told.cords}
    assert set(by_name) == {"Ridge 4 mm", "Fell 3 mm", "Tarn 2 mm"}
    fell = by_name["Fell 3 mm"]
    assert (fell.readings_before, fell.readings_after) == (40, 80)
    assert fell.moved_mm > 0.1  # half of the whips are 8 per cent thicker
    moves = [max(abs(cord.moved_mm), abs(cord.widened_mm)) for cord in told.cords]
    assert moves == sorted(moves, reverse=True)
    words = " ".join(told.sentences(MM))
    assert "Fit 2 rests on 80 readings of 10 whips, fit 1 on 40 of 5: 40 more." in words
    assert "Readings more: " in words
    assert "Fell 3 mm 40" in words
    back = compared(engine, second, first)
    assert [cord.moved_mm for cord in back.cords] == pytest.approx([-x.moved_mm for x in told.cords], abs=0.3)
    assert back.gone_whips == told.new_whips


def test_a_fit_is_as_it_is_beside_itself(sqlite_engine: Engine) -> None:
    only = fitted(sqlite_engine, *(pulled(k) for k in range(4)))
    told = compared(sqlite_engine, only, only)
    assert all(cord.moved_mm == 0 and cord.widened_mm == 0 for cord in told.cords)
    assert (told.parameters, told.spreads, told.versions) == ({}, {}, None)
    assert "No cord's typical stack changed" in told.sentences(MM)[1]
    with pytest.raises(NotFoundError, match="stored are 1"):
        compared(sqlite_engine, only, 7)


def test_parameters_that_changed_are_named(sqlite_engine: Engine) -> None:
    first = fitted(sqlite_engine, *(pulled(k) for k in range(4)))
    with reading(sqlite_engine) as session:
        gathered = gather(session)
    other = work_out(gathered, with_evidence=False)
    refit = DiameterModel(caliper_mm=0.3).fit(gathered.readings).calibration_
    with writing(sqlite_engine) as session:
        second = store(session, replace(other, calibration=refit))
    told = compared(sqlite_engine, first, second)
    assert list(told.parameters) == ["caliper_mm"]
    assert told.parameters["caliper_mm"][1] == 0.3
    assert any(sentence.startswith("Parameter caliper_mm: ") for sentence in told.sentences(MM))


def test_one_whip_is_added_without_a_refit(engine: Engine) -> None:
    """It says nearly what a whole fit would: at most a quarter of what the whip moves is missed."""
    first = fitted(engine, *(pulled(k) for k in range(8)))
    before = predicted(engine)
    take(engine, pulled(8, factor=1.12))
    number, made = added(engine, "w08")
    assert (made.before, made.readings, number) == (first, 8, 2)
    assert in_force(engine).number == number
    assert in_force(engine).findings == ()  # it knows everything that is recorded
    assert (in_force(engine).calibration.readings, in_force(engine).calibration.whips) == (72, 9)
    assert [finding.code for finding in made.findings] == ["evidence-before"]
    assert "evidence-before" in [finding.code for finding in in_force(engine).calibration.findings]
    quick = predicted(engine)
    fitted(engine)
    whole = predicted(engine)
    moved = [now[0] - was[0] for was, now in zip(before, whole, strict=True)]
    missed = [fast[0] - now[0] for fast, now in zip(quick, whole, strict=True)]
    assert max(map(abs, moved)) > 0.05
    assert max(map(abs, missed)) < max(map(abs, moved)) / 4


def test_whips_are_added_one_after_another_and_never_twice(engine: Engine) -> None:
    fitted(engine, *(pulled(k) for k in range(6)))
    take(engine, pulled(6), pulled(7), pulled(8, readings=None), pulled(9, status="planned"))
    added(engine, "w07")
    assert [finding.code for finding in in_force(engine).findings] == ["stale-fit"]  # w06 is still missing
    added(engine, "w06")
    assert in_force(engine).calibration.whips == 8
    with reading(engine) as session:
        assert [fit.added for fit in list_fits(session)] == [2, 1, 0]
    for label in ("w00", "w06", "w07"):
        with pytest.raises(AlreadyThereError, match=f"knows {label} already"):
            added(engine, label)
    with pytest.raises(FitError, match="no reading of w08"):
        added(engine, "w08")
    with pytest.raises(FitError, match="only planned"):
        added(engine, "w09")
    with pytest.raises(NotFoundError):
        added(engine, "w77")


def test_nothing_is_added_to_a_fit_that_is_no_longer_in_force(sqlite_engine: Engine) -> None:
    take(sqlite_engine, *(pulled(k) for k in range(2)))
    with pytest.raises(NotFoundError, match="no fit is stored"):
        added(sqlite_engine, "w00")
    fitted(sqlite_engine)
    take(sqlite_engine, pulled(2))
    with reading(sqlite_engine) as session:
        late = add_whip(session, "w02")
    fitted(sqlite_engine)
    with pytest.raises(AlreadyThereError, match="no longer in force"), writing(sqlite_engine) as session:
        store_added(session, late)


def test_what_else_is_kept_with_a_fit_stays_when_a_whip_is_added(engine: Engine) -> None:
    fitted(engine, *(pulled(k) for k in range(4)))
    with writing(engine) as session:
        kept = session.scalars(select(FitRow.artefact)).one()
        session.execute(update(FitRow).values(artefact={**kept, "beside": [1, 2]}, evidence=None))
    take(engine, pulled(4))
    added(engine, "w04")
    with reading(engine) as session:
        assert session.scalars(select(FitRow.artefact).where(FitRow.current)).one()["beside"] == [1, 2]


def test_a_drift_of_the_latest_whips_is_found_before_and_after_a_refit(engine: Engine) -> None:
    """Ten whips that come out 8 per cent thicker, after twenty of the old sort."""
    fitted(engine, *(pulled(k) for k in range(20)))
    calm = checked(engine)
    assert calm.since.whips == 0
    assert calm.latest.whips == 10
    assert not calm.latest.drifts
    assert calm.findings == ()
    take(engine, *(pulled(k, factor=1.08) for k in range(20, 30)))
    told = checked(engine)
    assert told.since.whips == 10
    assert told.since.drifts
    assert told.since.shift is not None
    assert told.since.shift.shift_log == pytest.approx(np.log(1.08), abs=0.02)
    assert "come out" in told.since.sentence(MM)
    assert "thicker than expected" in told.since.sentence(MM)
    assert [finding.code for finding in told.findings] == ["drift"]
    assert not told.latest.drifts
    fitted(engine)
    after = checked(engine)
    assert after.since.whips == 0
    assert after.latest.shift is not None
    assert [one.whip for one in after.latest.shift.whips] == [f"w{k:02d}" for k in range(20, 30)]
    assert after.latest.drifts
    assert after.latest.shift.shift_log == pytest.approx(np.log(1.08), abs=0.02)


def test_too_few_whips_are_called_so(sqlite_engine: Engine) -> None:
    with pytest.raises(NotFoundError, match="no fit is stored"):
        checked(sqlite_engine)
    fitted(sqlite_engine, *(pulled(k) for k in range(4)))
    told = checked(sqlite_engine)
    assert told.latest.shift is None
    assert "too few to tell" in told.latest.sentence(MM)
    assert told.findings == ()


def test_a_fit_that_does_not_tell_its_whips_says_what_to_do(engine: Engine) -> None:
    fitted(engine, *(pulled(k) for k in range(4)))
    with writing(engine) as session:
        kept = session.scalars(select(FitRow.artefact)).one()
        session.execute(update(FitRow).values(artefact={k: v for k, v in kept.items() if k != "records"}))
    with pytest.raises(InputError, match="run fit once more"):
        checked(engine)
