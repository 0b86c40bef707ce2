"""What lies ahead of a whip on the bench is planned again from what was measured, and nothing else moves."""

import re
from typing import Any

import pytest
from sqlalchemy import Engine

from plaitlog.models.calibration.prediction import Query
from plaitlog.models.errors import PlanError, StackNotKnownError
from plaitlog.models.planning.asked import AskedLayer
from plaitlog.models.stack import stack_at
from plaitlog.service.database import reading, write
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.planning.misses import OffTarget, Why
from plaitlog.service.usecases.planning.planning import bench_of, plan_for
from plaitlog.service.usecases.planning.replanning import Standing, replan
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.to_records import cord_record, whip_record
from plaitlog.service.usecases.workshop import cords_by_name, whip
from tests.planning.by_geometry import THICK, THIN

SPEC: dict[str, Any] = {
    "label": "next",
    "thong_length": "1200 mm",
    "handle_length": "0 mm",
    "target": {
        "taper": "even", "thick_end": "14 mm", "point": "6 mm", "parallel_thick": "100 mm",
        "parallel_point": "100 mm",
    },
    "layers": [
        {"role": "core", "cord": THICK.name, "start": 3},
        {"role": "belly", "cord": THIN.name, "start": 12, "ends": "700 mm"},
        {"role": "overlay", "cord": THIN.name, "start": 18},
    ],
}  # fmt: skip


@pytest.fixture
def bench(sqlite_engine: Engine) -> Engine:
    """A workshop with two cords and the planned whip on the bench."""
    write(sqlite_engine, lambda session: take_records(session, [cord_record(THICK), cord_record(THIN)]))
    with reading(sqlite_engine) as session:
        made = plan_for(bench_of(session, SPEC)).plan.whip
    record = {**whip_record(made), "status": "on the bench"}
    write(sqlite_engine, lambda session: take_records(session, [record]))
    return sqlite_engine


def measure(engine: Engine, after_layer: int | None, thicker: float, to_mm: float) -> None:
    """Readings every 100 mm on the plan's own figures, all thicker by a factor."""
    with reading(engine) as session:
        told = expected_of_plan(session, after_layer)
    rows = [
        {"kind": "reading", "whip": "next", "at_mm": at, "diameter_mm": round(size * thicker, 2),
         **({"after_layer": after_layer} if after_layer else {})}
        for at, size in told.items() if at <= to_mm
    ]  # fmt: skip
    write(engine, lambda session: take_records(session, rows))


def expected_of_plan(session: Any, after_layer: int | None) -> dict[float, float]:
    """By station what the plan expects there once the layers up to one are done."""
    made, cords, in_force = whip(session, "next"), cords_by_name(session), fit_in_force(session)
    found = {}
    for at in range(50, 1200, 100):
        try:
            stack = stack_at(made, at, cords, after_layer)
        except StackNotKnownError:
            continue
        found[float(at)] = in_force.predict([Query(stack=stack, inner=after_layer is not None)])[
            0
        ].diameter_mm
    return found


def drops(made: Any, slot: int) -> list[tuple[float, int]]:
    return [(s.place.low_mm, round(s.total.mid)) for s in made.layers[slot - 1].schedule.steps]


def test_a_belly_that_came_out_thick_moves_the_overlay_and_nothing_below(bench: Engine) -> None:
    measure(bench, 2, 1.08, 1200)
    with reading(bench) as session:
        before = plan_for(bench_of(session, SPEC)).plan
        again = replan(session, "next", SPEC, Standing(2, 1200.0))
    assert drops(again.plan.whip, 1) == drops(before.whip, 1)
    assert drops(again.plan.whip, 2) == drops(before.whip, 2)
    assert drops(again.plan.whip, 3) != drops(before.whip, 3)
    assert len(again.readings) >= 5
    middle = 60
    was, now = before.stations[middle], again.plan.stations[middle]
    assert now.high_90_mm / now.low_90_mm < was.high_90_mm / was.low_90_mm
    assert "mm" in again.point
    assert re.search(r"expected at 0\.\d{3} in; 0\.\d{3} in", again.point_in(ShownUnits("in", "in")))


def test_after_readings_on_the_overlay_only_drops_ahead_of_them_move(bench: Engine) -> None:
    measure(bench, None, 0.95, 600)
    with reading(bench) as session:
        before = plan_for(bench_of(session, SPEC)).plan
        again = replan(session, "next", SPEC)
    assert (again.standing.slot, again.standing.to_mm) == (3, 550.0)
    done = [one for one in drops(before.whip, 3) if one[0] <= 550]
    assert [one for one in drops(again.plan.whip, 3) if one[0] <= 550] == done
    assert again.told.plain is None, "the plain rule is for a whip that is not begun"
    why = [one.reason.why for one in again.plan.misses if isinstance(one, OffTarget) and one.at_mm <= 550]
    assert set(why) <= {Why.DONE}
    assert [drops(again.plan.whip, k) for k in (1, 2)] == [drops(before.whip, k) for k in (1, 2)]


def test_what_cannot_be_planned_again_says_why(bench: Engine) -> None:
    with reading(bench) as session:
        with pytest.raises(PlanError, match="no reading that says how far"):
            replan(session, "next", SPEC)
        with pytest.raises(PlanError, match="no layer 4"):
            replan(session, "next", SPEC, Standing(4, 0.0))
        fewer = {**SPEC, "layers": SPEC["layers"][::2]}
        with pytest.raises(PlanError, match="other layers"):
            replan(session, "next", fewer, Standing(2, 100.0))
        asked = plan_for(bench_of(session, SPEC)).plan.asked
    assert all(isinstance(layer, AskedLayer) for layer in asked.layers)
