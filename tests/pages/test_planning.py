"""Plans by pages: what is typed becomes what the interface is asked for; plans lie beside each other; a whip
is begun from one, and planned again, with the same rows as by the other faces."""

import json
import sqlite3
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from typer.testing import CliRunner

from plaitlog.service.cli.main import app as command
from plaitlog.service.database import reading, write
from plaitlog.service.pages.planning.fields import START
from plaitlog.service.pages.planning.form import asked_in
from plaitlog.service.pages.planning.texts import texts_of
from plaitlog.service.schemas.plan_spec import PlannedLayerShape, PlanSpec, RulesShape, TargetShape
from plaitlog.service.usecases.drafts import Draft, keep
from plaitlog.service.usecases.drafts import one as one_draft
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.work.kinds import KINDS
from plaitlog.service.work.plan import work
from tests.api.server import API, given, serving
from tests.pages.conftest import HTML
from tests.pages.workshops import demo_copy

TYPED = {
    **START, "label": "Short one", "maker": "Orrin", "thong_length": "900 mm", "handle_length": "0 mm",
    "thick_end": "12", "point": "6 mm", "l1_cord": "Ridge 4 mm", "l1_start": "3", "l2_cord": "Beck 2.5 mm",
    "l2_start": "16",
}  # fmt: skip
SPEC: dict[str, Any] = {
    "label": "Short one",
    "maker": "Orrin",
    "thong_length": "900 mm",
    "handle_length": "0 mm",
    "target": {"thick_end": "12 mm", "point": "6 mm"},
    "layers": [
        {"role": "core", "cord": "Ridge 4 mm", "start": 3},
        {"role": "overlay", "cord": "Beck 2.5 mm", "start": 16},
    ],
}
EVERYTHING: list[dict[str, Any]] = [
    {
        "label": "A", "maker": "Orrin", "type": "bullwhip", "pattern": "light bullwhip", "fit": 1,
        "datum": "butt", "thong_length": "5 ft 6 in", "handle_length": "12 in", "handle_diameter": "19 mm",
        "transition": "4 in", "foundation": {"diameter": "8 mm", "to": "10 in", "material": "steel"},
        "target": {
            "fullness": 0.45, "thick_end": "19 mm", "point": "6 mm", "parallel_thick": "6 in",
            "parallel_point": "6 in",
        },
        "layers": [
            {"role": "core", "what": "rope", "diameter": "6 mm", "from": "0 in", "to": "20 in"},
            {"role": "binding", "what": "tape", "thickness": "0.2 mm", "from": "0 in", "to": "20 in"},
            {"role": "belly", "cord": "Ridge 4 mm", "start": 8, "ends": "30 in", "fate": "tuck 76.2 mm gut"},
            {"role": "overlay", "fate": "cut",
             "cords": [{"cord": "Fell 3 mm", "share": 10.0}, {"cord": "Beck 2.5 mm", "share": 6.0}]},
        ],
        "rules": {
            "grid": "1 in", "plait_counts": [4, 20], "core_counts": [2, 12], "core_spacing": "1 in",
            "plait_spacing": "2 in", "apart": "1 in", "cover": [0.65, 1.1], "regular": [12, 8],
            "drop_cost": 0.1, "irregular_cost": 0.2,
        },
    },
    {"foundation": "none", "target": {"taper": "late", "thick_end": "12 mm", "point": "6 mm"}},
    {"target": {"stations": [["0 in", "14 mm"], ["12 in", "14 mm"], ["60 in", "6 mm"]]}},
    {"target": {"like": "2022-008"}},
    {"target": {"pair_of": "2022-008"}},
]  # fmt: skip


def address_of(client: TestClient) -> str:
    """Where a new form is sent."""
    return f"/plan/{data(client, '/plan')['token']}"


def data(client: TestClient, address: str) -> dict[str, Any]:
    return dict(given(client.get(address, headers={"Accept": "application/json"})))


def send(client: TestClient, address: str, typed: Mapping[str, str], do: str = "plan") -> Any:
    return client.post(address, data={**typed, "do": do}, follow_redirects=False)


@pytest.mark.parametrize("spec", EVERYTHING)
def test_a_file_read_into_the_form_asks_for_the_same(spec: dict[str, Any]) -> None:
    asked = asked_in({**START, **texts_of(spec)}, ShownUnits())
    assert asked.wrong == {}
    assert asked.data == spec


def test_numbers_without_a_unit_are_meant_as_they_are_shown() -> None:
    typed = {**START, "thong_length": "6", "thick_end": "0,5", "point": "6 mm", "parallel_point": "7"}
    asked = asked_in({**typed, "l2_cord": "Ridge 4 mm", "l2_fate": "tuck 3"}, ShownUnits("ft", "in"))
    assert asked.data["thong_length"] == "6 ft"
    assert asked.data["target"] == {"thick_end": "0,5 in", "point": "6 mm", "parallel_point": "7 in"}
    assert asked.data["layers"][0]["fate"] == "tuck 76.2 mm"


def test_no_draft_of_another_kind_is_written_over(empty: TestClient) -> None:
    engine = empty.app.state.engine  # type: ignore[attr-defined]
    write(engine, lambda session: keep(session, "token-of-a-record", "record", "mine", {"label": "2026-1"}))
    for token in ("token-of-a-record", "short", "x" * 41):
        assert send(empty, f"/plan/{token}", TYPED, "keep").status_code == 404
    with reading(engine) as session:
        kept = one_draft(session, "token-of-a-record")
    assert isinstance(kept, Draft)
    assert kept.texts == {"label": "2026-1"}


def test_the_form_can_ask_for_everything_that_a_plan_can_be_asked_for() -> None:
    def keys(parts: list[Any]) -> set[str]:
        return {key for part in parts for key in part}

    def typed(shape: Any) -> set[str]:
        # A number in mm is the same as its text; units are those that the pages show.
        names = {field.alias or name for name, field in shape.model_fields.items()}
        return {name for name in names if not name.endswith("_mm")} - {"units"}

    assert keys(EVERYTHING) == typed(PlanSpec)
    assert keys([one["target"] for one in EVERYTHING]) == typed(TargetShape)
    assert keys(EVERYTHING[0]["layers"]) == typed(PlannedLayerShape)
    assert keys([EVERYTHING[0]["rules"]]) == typed(RulesShape)


@pytest.mark.parametrize(
    ("otherwise", "field", "said"),
    [
        ({"thong_length": ""}, "thong_length", "is missing"),
        ({"point": "thin"}, "point", "is not a diameter"),
        ({"point": "13"}, "point", "thicker"),
        ({"taper": "parallel"}, "taper", "is not parallel"),
        ({"l2_cord": "Nothing"}, "l2_cord", "no cord"),
        ({"l2_start": "15"}, "l2_start", "are odd"),
        ({"l2_start": "many"}, "l2_start", "is not a whole number"),
        ({"l2_fate": "tuck 3 ft"}, "l2_fate", "a tuck of"),
        ({"l1_ends": "40 in"}, "l1_ends", "the thong is"),
        ({"l2_cord": "", "l2_start": ""}, "layers", "there is no overlay"),
        ({"way": "stations", "at1": "0", "size1": "12", "at2": "9"}, "size2", "is missing"),
        ({"way": "stations", "at1": "9", "size1": "12", "at2": "0", "size2": "6"}, "at2", "does not lie"),
        ({"way": "like", "like": "no such"}, "like", "no whip"),
        ({"cover_least": "4"}, "cover_most", "is no range"),
        ({"fit": "99"}, "fit", "no fit"),
    ],
)
def test_what_cannot_be_planned_is_told_beside_its_field(
    shared: TestClient, otherwise: dict[str, str], field: str, said: str
) -> None:
    address = address_of(shared)
    answer = send(shared, address, {**TYPED, **otherwise})
    assert answer.status_code == 422
    told = data(shared, address)
    # What was typed is kept, whatever became of it.
    assert {key: told["typed"][key] for key in otherwise} == otherwise
    assert f'href="#{field}"' in answer.text
    beside = answer.text.split('id="layers"' if field == "layers" else f'id="{field}-help"')[1]
    assert said in beside.split("</p>")[0]


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A demo for tests that record nothing."""
    with serving(demo_copy(tmp_path_factory.mktemp("planning"))) as client:
        client.headers.update(HTML)
        yield client


def test_a_plan_is_what_the_interface_plans(shared: TestClient) -> None:
    address = address_of(shared)
    answer = send(shared, address, TYPED)
    assert (answer.status_code, answer.headers["location"]) == (303, f"{address}#plan-1")
    expected = given(shared.post(f"{API}/plans", json=SPEC, headers={"Accept": "application/json"}))
    card = data(shared, address)["plans"][0]["card"]
    assert card["off_mm"] == expected["misfit_mm"]
    assert card["drops"] == expected["drops"]
    assert len(card["misses"]) == sum(
        one["code"].startswith(("off", "blunt")) for one in expected["findings"]
    )
    assert [one["cord"] for one in card["cords"]] == [one["cord"] for one in expected["cord_totals"]]
    assert card["caution"] == expected["caution"]
    shown = shared.get(address).text
    assert shown.count("Predictions are estimates; measure while you build") == 1
    assert " style=" not in shown


def test_changed_questions_and_other_good_plans_lie_beside_each_other(shared: TestClient) -> None:
    address = address_of(shared)
    send(shared, address, TYPED)
    send(shared, address, TYPED)  # the same once more is no other plan
    changed = {**TYPED, "point": "5.5"}
    send(shared, address, changed, "beside")
    plans = data(shared, address)["plans"]
    assert [one["number"] for one in plans] == list(range(1, len(plans) + 1))
    assert len(plans) >= 3
    assert plans[0]["changed"] == []
    assert plans[1]["changed"] == ["Diameter at the point: 5.5, not 6 mm"]
    assert data(shared, f"{address}?question=1")["typed"]["point"] == "6 mm"
    assert send(shared, address, {}, "take-away 1").status_code == 303
    assert [one["number"] for one in data(shared, address)["plans"]] == [one["number"] for one in plans[1:]]
    assert data(shared, address)["typed"]["point"] == "5.5"


def test_the_wanted_profile_is_drawn_before_any_layer_is_named(shared: TestClient) -> None:
    address = address_of(shared)
    typed = {**START, "thong_length": "66", "pattern": "stock whip"}
    shown = shared.post(f"{address}/wanted", data=typed).text
    assert "14.0 mm at the thick end, no drop before 12 in" in shown
    assert shown.count('class="grip"') == 2
    stations = {"way": "stations", "at1": "0", "size1": "14", "at2": "66", "size2": "6"}
    assert shared.post(f"{address}/wanted", data={**typed, "pattern": "", **stations}).text.count("grip") == 2
    lacks = shared.post(f"{address}/wanted", data={**START, "thong_length": "66"}).text
    assert "<svg" not in lacks
    assert "thick_end: is missing" in lacks


def test_a_save_that_arrives_late_undoes_nothing(shared: TestClient) -> None:
    address = address_of(shared)
    shared.post(f"{address}/wanted", data={**TYPED, "label": "second", "turn": "2"})
    shared.post(f"{address}/wanted", data={**TYPED, "label": "first", "turn": "1"})
    assert data(shared, address)["typed"]["label"] == "second"
    send(shared, address, {**TYPED, "turn": "3"}, "layer")
    shared.post(f"{address}/wanted", data={**TYPED, "turn": "3"})
    told = data(shared, address)
    assert told["layer_rows"] == [1, 2, 3]
    assert [told["typed"][f"l{row}_role"] for row in (1, 2, 3)] == ["core", "belly", "overlay"]
    assert told["typed"]["l3_cord"] == "Beck 2.5 mm"


LARGE = {
    **TYPED, "thong_length": "6 ft", "thick_end": "20 mm", "l1_start": "", "l2_role": "belly",
    "l2_cord": "Ridge 4 mm", "l2_start": "", "layers": "4", "l3_role": "belly", "l3_cord": "Fell 3 mm",
    "l4_role": "overlay", "l4_cord": "Ridge 4 mm",
}  # fmt: skip


def test_a_large_question_is_worked_on_while_one_does_something_else(demo: TestClient) -> None:
    address = address_of(demo)
    answer = send(demo, address, LARGE)
    assert answer.headers["location"] == "/jobs/1"
    assert data(demo, address)["under_way"][0]["number"] == 1
    demo.post("/jobs/1/cancel")
    assert data(demo, address)["under_way"] == []
    assert data(demo, address)["typed"]["l3_cord"] == "Fell 3 mm"
    assert data(demo, address)["plans"] == []
    assert KINDS["plan"].module == work.__module__


def test_a_job_tells_how_far_it_is_and_puts_its_plans_where_they_were_asked_for(demo: TestClient) -> None:
    engine = demo.app.state.engine  # type: ignore[attr-defined]
    address = address_of(demo)
    asked = {"token": address.rsplit("/", 1)[1], "spec": SPEC, "typed": TYPED, "beside": True}
    told: list[float] = []
    finish = work(engine, asked, lambda words, share: told.append(share))
    assert told == sorted(told)
    assert told[-1] == 1
    result = write(engine, finish)
    assert result["address"] == f"{address}#plan-1"
    assert [one["number"] for one in data(demo, address)["plans"]] == result["plans"]


LABEL = "New 1/2"
AT = "/New%201%2F2"


def rows(database: str) -> dict[str, Any]:
    """All that is recorded, but when."""
    with sqlite3.connect(database) as connection:
        connection.row_factory = sqlite3.Row
        found = {}
        for table in ("whips", "layers", "layer_cords", "steps", "step_counts", "readings"):
            found[table] = [dict(one) for one in connection.execute(f"SELECT * FROM {table} ORDER BY id")]
        last = "SELECT * FROM history_entries ORDER BY id DESC LIMIT 4"
        found["history"] = [dict(one) for one in connection.execute(last)]
    for one in (one for part in found.values() for one in part):
        one.pop("created_at", None)
        one.pop("images", None)  # rows with the times they were written at
        for key in ("plan", "before", "after"):
            if one.get(key):
                one[key] = json.loads(one[key])
    return found


def _begin_and_replan_by_pages(database: str, folder: Path) -> None:
    with serving(database) as client:
        client.headers.update(HTML)
        address = address_of(client)
        send(client, address, TYPED)
        begun = send(client, f"{address}/start", {"number": "1", "start_label": LABEL})
        assert begun.headers["location"].startswith(f"/sheets/whips{AT}?change="), begun.text
        _measure(client)
        again = send(client, f"/replan{AT}", {}, "again")
        kept = send(client, f"{again.headers['location']}/keep", {})
        assert kept.headers["location"].startswith(f"/sheets/whips{AT}?change=")


def _begin_and_replan_by_interface(database: str, folder: Path) -> None:
    with serving(database) as client:
        plan = given(client.post(f"{API}/plans", json=SPEC))
        given(client.post(f"{API}/bench/start", json={"whip": LABEL, "plan": {**plan, "spec": SPEC}}), 201)
        _measure(client)
        given(client.post(f"{API}/bench/replan", json={"whip": LABEL, "record": True}))


def _begin_and_replan_by_command(database: str, folder: Path) -> None:
    def run(*arguments: str) -> None:
        result = CliRunner().invoke(command, [*arguments, "--database", database])
        assert result.exit_code == 0, result.output

    spec = folder / "spec.json"
    spec.write_text(json.dumps(SPEC), "utf-8")
    run("plan", str(spec), "--out", str(folder))
    run("start", LABEL, str(folder / "plan.json"))
    with serving(database) as client:
        _measure(client)
    run("replan", LABEL, "--record")


def _measure(client: TestClient) -> None:
    for at, size in ((100, 13.1), (250, 12.4)):
        record = {"whip": LABEL, "at_mm": at, "diameter_mm": size}
        given(client.post(f"{API}/readings", json=record, headers={"Accept": "application/json"}), 201)


def test_page_interface_and_command_line_leave_the_same_rows(tmp_path: Path) -> None:
    left = []
    for face in (_begin_and_replan_by_pages, _begin_and_replan_by_interface, _begin_and_replan_by_command):
        folder = tmp_path / face.__name__
        folder.mkdir()
        database = demo_copy(folder)
        face(database, folder)
        left.append(rows(database))
    assert left[0] == left[1] == left[2]
    assert left[0]["whips"][-1]["status"] == "on the bench"
    assert left[0]["whips"][-1]["plan"]["spec"] == SPEC
    assert left[0]["history"][0]["before"] != left[0]["history"][0]["after"]


def test_a_whip_on_the_bench_is_planned_again_looked_at_and_kept_once(demo: TestClient) -> None:
    address = address_of(demo)
    send(demo, address, TYPED)
    refused = send(demo, f"{address}/start", {"number": "1", "start_label": "2022-008"})
    assert refused.status_code == 409
    assert "recorded already" in refused.text
    assert 'value="2022-008"' in refused.text
    send(demo, f"{address}/start", {"number": "1", "start_label": LABEL})
    unmeasured = data(demo, f"/plan?replan={LABEL}")
    assert (unmeasured["stands"], unmeasured["refused"]) == (None, None)
    unclear = send(demo, f"/replan{AT}", {"layer": "2", "to": ""}, "again")
    assert unclear.status_code == 422
    assert "how far the whip is" in unclear.text
    _measure(demo)
    ahead = send(demo, f"/replan{AT}", {}, "again").headers["location"]
    told = data(demo, ahead)
    assert told["stands"] == "the overlay (layer 2) is plaited to 250 mm"
    assert told["again"]["changed"]
    assert all("overlay (layer 2)" in line for line in told["again"]["changed"])
    assert "of what lies ahead" not in demo.get(f"/sheets/again/{ahead.rsplit('/', 1)[1]}").text
    # A reading that comes in meanwhile makes what was planned old, and it is not kept.
    other = {"whip": LABEL, "at_mm": 300, "diameter_mm": 12.2}
    given(demo.post(f"{API}/readings", json=other, headers={"Accept": "application/json"}), 201)
    assert not data(demo, ahead)["again"]["current"]
    stale = send(demo, f"{ahead}/keep", {})
    assert stale.status_code == 409
    ahead = send(demo, f"/replan{AT}", {}, "again").headers["location"]
    kept = send(demo, f"{ahead}/keep", {})
    assert "/undo" in demo.get(kept.headers["location"]).text
    assert send(demo, f"{ahead}/keep", {}).status_code == 404  # it was kept already
