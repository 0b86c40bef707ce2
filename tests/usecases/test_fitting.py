"""From records to a stored fit: what takes part, what is left out and why, what is in force."""

import json
from typing import Any

import pytest
from sqlalchemy import Engine

from plaitlog.models.errors import ArtifactError, NotFoundError
from plaitlog.models.tables import FitRow
from plaitlog.service.database import reading, writing
from plaitlog.service.usecases.fitting import (
    gather,
    list_fits,
    put_in_force,
    store,
    work_out,
)
from plaitlog.service.usecases.gathering import Gathered
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.observing import REASONS
from plaitlog.service.usecases.predicting import InForce, fit_in_force

CORD: dict[str, Any] = {
    "kind": "cord", "name": "Ridge 4 mm", "material": "nylon", "construction": "cored", "diameter_mm": 4.0,
}  # fmt: skip


def layer(role: str, strands: Any, **keys: Any) -> dict[str, Any]:
    return {"role": role, "cord": "Ridge 4 mm", "strands": strands, **keys}


def whip(label: str, **keys: Any) -> dict[str, Any]:
    return {
        "kind": "whip", "label": label, "maker": "Orrin", "status": "finished", "thong_length_mm": 1000,
        "handle_diameter_mm": 24, "layers": [layer("core", [[0, 6], [500, 0]]), layer("overlay", [[0, 16]])],
        "readings": [{"at_mm": 100, "diameter_mm": 18.0}], **keys,
    }  # fmt: skip


def gathered(engine: Engine, *records: dict[str, Any]) -> Gathered:
    with writing(engine) as session:
        take_records(session, [CORD, *records])
    with reading(engine) as session:
        return gather(session)


def test_a_reading_is_seen_on_its_stack_with_what_was_noted(engine: Engine) -> None:
    readings = [
        {"at_mm": 600, "girth_mm": 47.5, "tape_mm": 0.3, "condition": "waxed", "doubtful": True},
        {"at_mm": 100, "diameter_mm": 11.0, "after_layer": 1},
    ]
    seen = gathered(engine, whip("a", readings=readings)).observations
    assert [len(one.stack.layers) for one in seen] == [1, 1]
    assert [one.stack.layers[0].role for one in seen] == ["overlay", "core"]
    assert seen[0].diameter_mm == pytest.approx(47.5 / 3.141592653589793 - 0.3)
    assert [one.method for one in seen] == ["girth", "caliper"]
    assert [one.condition for one in seen] == ["waxed", None]
    assert [one.doubtful for one in seen] == [True, False]
    assert [one.inner for one in seen] == [False, True]
    assert {one.maker for one in seen} == {"Orrin"}


def test_planned_whips_and_finished_handles_never_take_part(engine: Engine) -> None:
    found = gathered(engine, whip("a"), whip("b", status="planned"), whip("c", readings=None))
    assert [one.whip for one in found.observations] == ["a"]
    assert found.planned_whips == 1
    assert 24.0 not in [one.diameter_mm for one in found.observations]


def test_readings_without_a_known_stack_are_counted_by_reason(engine: Engine) -> None:
    two = [{"at_mm": 100, "diameter_mm": 18.0}, {"at_mm": 900, "diameter_mm": 12.0}]
    found = gathered(
        engine,
        whip("open", layers=[layer("overlay", [[0, 16]])], layers_complete=False, readings=two),
        whip("nothing", layers=None, readings=two[:1]),
        whip("unsaid", layers=[layer("overlay", "mm: 16; 500: -2; ?")], layers_complete=True, readings=two),
        whip("unplaced", thong_length_mm=None, readings=[{"place": "p", "diameter_mm": 6}]),
    )
    assert [one.whip for one in found.observations] == ["unsaid"]
    assert found.left_out == {"layers-open": 2, "no-layers": 1, "schedule-open": 1, "no-station": 1}
    assert set(found.left_out) <= set(REASONS)
    worked = work_out(found, with_evidence=False)
    told = [finding.text for finding in worked.findings if finding.code == "left-out"]
    assert "2 readings left out: it is not noted that the listed layers are all there are" in told


def test_named_places_are_placed_by_the_lengths(engine: Engine) -> None:
    ends = [{"place": "thick", "diameter_mm": 18}, {"place": "p", "diameter_mm": 12}]
    found = gathered(engine, whip("a", readings=ends))
    assert [one.at_mm for one in found.observations] == [0, 1000]


def test_the_fingerprint_changes_with_what_a_fit_learns_from_and_with_nothing_else(engine: Engine) -> None:
    first = gathered(engine, whip("a")).fingerprint
    assert gathered(engine, whip("a")).fingerprint == first
    rating = {"kind": "rating", "whip": "a", "scores": {"ease": 7}, "on": "2026-01-01"}
    assert gathered(engine, rating, whip("p", status="planned")).fingerprint == first
    more = gathered(engine, {"kind": "reading", "whip": "a", "at_mm": 200, "diameter_mm": 17.5}).fingerprint
    assert more != first
    assert gathered(engine, {**CORD, "name": "Fell 3 mm"}).fingerprint != more


def test_with_nothing_recorded_a_fit_says_what_it_rests_on(engine: Engine) -> None:
    worked = work_out(gathered(engine))
    assert "no-fit" in [finding.code for finding in worked.findings]
    assert worked.evidence is None


def fitted(engine: Engine, *records: dict[str, Any]) -> int:
    worked = work_out(gathered(engine, *records), with_evidence=False)
    with writing(engine) as session:
        return store(session, worked)


def in_force(engine: Engine) -> InForce:
    with reading(engine) as session:
        return fit_in_force(session)


def test_the_latest_fit_predicts_and_an_earlier_one_can_be_put_back(engine: Engine) -> None:
    assert in_force(engine).number is None
    first = fitted(engine, whip("a"))
    second = fitted(engine, whip("b"))
    assert (in_force(engine).number, in_force(engine).calibration.whips) == (second, 2)
    with writing(engine) as session:
        put_in_force(session, first)
    assert (in_force(engine).number, in_force(engine).calibration.whips) == (first, 1)
    with reading(engine) as session:
        listed = list_fits(session)
    assert [(one.number, one.whips, one.current) for one in listed] == [(second, 2, False), (first, 1, True)]
    with pytest.raises(NotFoundError, match=f"stored are {first}, {second}"), writing(engine) as session:
        put_in_force(session, 99)


def test_a_stored_fit_predicts_what_it_predicted_before_it_was_stored(engine: Engine) -> None:
    worked = work_out(gathered(engine, whip("a"), whip("b")), with_evidence=False)
    with writing(engine) as session:
        store(session, worked)
    again = in_force(engine).calibration
    assert again.coefficients == pytest.approx(worked.calibration.coefficients, rel=1e-12)
    assert in_force(engine).findings == ()


def test_a_fit_older_than_the_records_says_so(engine: Engine) -> None:
    fitted(engine, whip("a"))
    gathered(engine, whip("b"))
    assert [finding.code for finding in in_force(engine).findings] == ["stale-fit"]


def test_a_fit_that_was_tampered_with_is_refused(engine: Engine) -> None:
    number = fitted(engine, whip("a"))
    with writing(engine) as session:
        row = session.get_one(FitRow, number)
        row.artefact = {**json.loads(json.dumps(row.artefact)), "noise": 7.0}
    with pytest.raises(ArtifactError, match="fit again"):
        in_force(engine)
