"""Cords by pages: the list with what teaches them, one cord with its stock, edited as by the other faces."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, select
from starlette.testclient import TestClient
from typer.testing import CliRunner

from plaitlog.models.tables import CordRow, CordStockRow, HistoryEntryRow
from plaitlog.service.cli.main import app as command
from plaitlog.service.database import write
from plaitlog.service.migrate import ready_engine
from plaitlog.service.preferences import Preferences, remember
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.shown_units import ShownUnits
from tests.api.server import API, serving
from tests.pages.conftest import HTML
from tests.pages.statements import counted

OWN = {"Origin": "http://127.0.0.1:8765"}
RIDGE = "/cords/Ridge%204%20mm"


def data(client: TestClient, address: str) -> Any:
    answer = client.get(address, headers={"Accept": "application/json"})
    assert answer.status_code == 200, answer.text
    return answer.json()


def send(client: TestClient, address: str, **typed: str) -> Any:
    return client.post(address, data=typed, headers=OWN, follow_redirects=False)


def form(client: TestClient, address: str, **typed: str) -> dict[str, str]:
    """What the edit form of a cord sends after ``typed`` was typed into it."""
    shown = data(client, address)
    was = {f"was-{one['id']}": one["stored"] for one in shown["fields"]}
    sent = {one["id"]: one["value"] for one in shown["fields"]}
    return {**was, **sent, "version": str(shown["version"]), "do": "edit", **typed}


def test_the_list_says_what_teaches_each_cord_and_how_sure_it_is(looked: TestClient) -> None:
    told = data(looked, "/cords")
    cords = {cord["name"]: cord for cord in told["cords"]}
    stock = looked.get(f"{API}/stock?limit=200").json()["items"]
    for name, cord in cords.items():
        metres = [lot["record"]["metres"] for lot in stock if lot["record"]["cord"] == name]
        assert float(cord["metres"]) == pytest.approx(sum(metres))
    assert cords["Holm 3 mm"]["thin"] == ["no reading"]
    assert (cords["Holm 3 mm"]["readings"], cords["Holm 3 mm"]["whips"]) == (0, 0)
    assert cords["Ridge 4 mm"]["thin"] == []
    assert cords["Ridge 4 mm"]["readings"] > 100
    # Nobody has plaited the one, somebody the other often: the fit is surer of the latter.
    assert cords["Holm 3 mm"]["percent"] > cords["Ridge 4 mm"]["percent"]
    unsure = data(looked, "/cords?order=unsure")["cords"]
    assert [c["half_mm"] / c["diameter_mm"] for c in unsure] == sorted(
        (c["half_mm"] / c["diameter_mm"] for c in unsure), reverse=True
    )


def test_the_search_looks_at_names_and_at_what_is_in_stock(looked: TestClient) -> None:
    def found(q: str) -> set[str]:
        return {cord["name"] for cord in data(looked, f"/cords?q={q}")["cords"]}

    assert found("heath") == {"Heath 3.5 mm", "Heath 3.5 mm gutted"}
    assert found("ochre") == {"Scar 4.5 mm"}
    assert found("polyester%20cored") == {"Heath 3.5 mm", "Holm 3 mm", "Scar 4.5 mm", "Tarn 2 mm"}
    assert "No cord fits" in looked.get("/cords?q=sisal").text


def test_as_many_queries_for_3_cords_as_for_300(tmp_path: Path) -> None:
    def filled(count: int) -> list[dict[str, Any]]:
        made = {"kind": "cord", "material": "nylon", "construction": "cored", "diameter_mm": 4}
        records: list[dict[str, Any]] = []
        for number in range(count):
            name = f"Ridge {number}"
            layer = {"role": "overlay", "cord": name, "strands": "in: 12; p"}
            reading = {"at_mm": 100, "diameter_mm": 14}
            records += [
                {**made, "name": name},
                {"kind": "stock", "cord": name, "metres": 10},
                {"kind": "whip", "label": f"W{number}", "layers": [layer], "readings": [reading]},
            ]
        return records

    with serving(str(tmp_path / "plaitlog.db")) as client:
        client.headers.update(HTML)
        asked = []
        for count in (3, 300):
            write(client.app.state.engine, lambda s, n=count: take_records(s, filled(n)))  # type: ignore[attr-defined]
            with counted(client) as sent:
                answer = client.get("/cords")
            assert answer.text.count('<th scope="row">') == count
            asked.append(len(sent))
    assert asked[0] == asked[1] <= 20


def test_one_cord_shows_all_that_is_known_of_it(looked: TestClient) -> None:
    told = data(looked, RIDGE)
    assert [lot["colour"] for lot in told["lots"]] == ["black", "walnut", "rust"]
    assert {one["name"] for one in told["beside"]} <= {c["name"] for c in data(looked, "/cords")["cords"]}
    assert told["whips_total"] == len(told["whips"]) == 20
    shown = looked.get(RIDGE).text
    assert shown.count("<svg") == 1
    assert "style=" not in shown
    over = data(looked, f"{RIDGE}?over=8")
    assert over["bodies"] == ["over 8.0 mm"]
    assert len(over["rows"]) > 5
    wrong = looked.get(f"{RIDGE}?over=thick")
    assert wrong.status_code == 422
    assert "is not a diameter" in wrong.text


def test_a_typical_plait_is_what_the_interface_predicts(looked: TestClient) -> None:
    told = data(looked, RIDGE)
    cord = {"cord": "Ridge 4 mm"}
    layers = [{"role": "core", "strands": 6, **cord}, {"role": "overlay", "strands": told["overlay"], **cord}]
    question = {"id": "a", "maker": told["hands"], "layers": layers}
    answer = looked.post(f"{API}/predictions", json={"questions": [question]}, headers=OWN).json()["answers"][
        0
    ]
    assert told["diameter_mm"] == pytest.approx(answer["diameter_mm"], rel=1e-9)
    half = (answer["high_90_mm"] - answer["low_90_mm"]) / 2
    assert told["half_mm"] == pytest.approx(half, rel=1e-9)


def rows(engine: Engine) -> dict[str, Any]:
    """What three faces must leave alike: cords, stock, and what the history says was done."""
    with engine.connect() as connection:
        cords = [tuple(row) for row in connection.execute(select(*CordRow.__table__.c))]
        stock = [tuple(row) for row in connection.execute(select(*CordStockRow.__table__.c))]
        entry = HistoryEntryRow.__table__.c
        said = select(entry.kind, entry.name, entry.former_name, entry.before, entry.after).order_by(entry.id)
        return {"cords": cords, "stock": stock, "said": [tuple(x) for x in connection.execute(said)]}


def by_pages(client: TestClient) -> None:
    kept = send(
        client, "/new-cord", name="Fell 3 mm", material="nylon", construction="cored",
        weighed_length="10", grams="40", touching="3", ten_strands="31", pressed="1.8", notes="stiff",
    )  # fmt: skip
    assert kept.status_code == 303, kept.text
    fell = "/cords/Fell%203%20mm"
    lot = {"colour-new": "slate", "metres-new": "150", "price_per_m-new": "0,16", "do": "lot-add"}
    assert send(client, fell, **lot).status_code == 303
    changed = form(client, fell, diameter="3.1 mm", notes="", name="Fell 3.1 mm")
    assert send(client, fell, **changed).headers["location"] == "/cords/Fell%203.1%20mm?change=3"
    fell = "/cords/Fell%203.1%20mm"
    told = data(client, fell)["lots"][0]
    edit = {f"{one['id']}": one["value"] for one in told["fields"]}
    was = {f"was-{one['id']}": one["stored"] for one in told["fields"]}
    version = {f"version-{told['key']}": str(told["version"])}
    send(client, fell, **{**was, **edit, **version, "metres-1": "96.5", "do": "lot-edit 1"})
    version = {"version-1": str(data(client, fell)["lots"][0]["version"])}
    send(client, fell, **version, do="lot-remove 1")
    send(client, fell, version=str(data(client, fell)["version"]), do="remove")


def by_interface(client: TestClient) -> None:
    def changed(place: str, **changes: Any) -> None:
        body = {"version": client.get(f"{API}/{place}").json()["version"], "changes": changes}
        assert client.patch(f"{API}/{place}", json=body, headers=OWN).status_code == 200

    def removed(place: str) -> None:
        version = client.get(f"{API}/{place}").json()["version"]
        assert client.delete(f"{API}/{place}?version={version}", headers=OWN).status_code == 200

    record = {
        "name": "Fell 3 mm", "material": "nylon", "construction": "cored", "linear_density_g_per_m": 4.0,
        "flat_width_mm": 3.1, "diameter": "3 mm", "pressed": "1.8 mm", "notes": "stiff",
    }  # fmt: skip
    assert client.post(f"{API}/cords", json=record, headers=OWN).status_code == 201
    lot = {"cord": "Fell 3 mm", "colour": "slate", "metres": 150, "price_per_m": 0.16}
    assert client.post(f"{API}/stock", json=lot, headers=OWN).status_code == 201
    changed("cords/Fell%203%20mm", diameter="3.1 mm", notes=None, name="Fell 3.1 mm")
    changed("stock/1", metres=96.5)
    removed("stock/1")
    removed("cords/Fell%203.1%20mm")


def by_command(run: Callable[..., None], file: Path) -> None:
    run(
        "cords", "add", "--name", "Fell 3 mm", "--material", "nylon", "--construction", "cored",
        "--weighed-length", "10", "--grams", "40", "--touching", "3", "--ten-strands", "31",
        "--pressed", "1.8", "--notes", "stiff",
    )  # fmt: skip
    lot = {"kind": "stock", "cord": "Fell 3 mm", "colour": "slate", "metres": 150, "price_per_m": 0.16}
    file.write_text(json.dumps(lot))
    run("import", str(file))
    run("edit", "Fell 3 mm", "diameter=3.1 mm", "notes=null", "name=Fell 3.1 mm")
    run("edit", "Fell 3.1 mm", "--stock", "1", "metres=96.5")
    run("remove", "Fell 3.1 mm", "--stock", "1")
    run("remove", "Fell 3.1 mm")


def test_pages_interface_and_command_leave_the_same_rows(tmp_path: Path) -> None:
    left = []
    for name, work in (("pages", by_pages), ("interface", by_interface)):
        with serving(str(tmp_path / f"{name}.db")) as client:
            client.headers.update(HTML)
            work(client)
            left.append(rows(client.app.state.engine))  # type: ignore[attr-defined]
    database = str(tmp_path / "command.db")

    def run(*arguments: str) -> None:
        done = CliRunner().invoke(command, ["--database", database, *arguments])
        assert done.exit_code == 0, done.output

    by_command(run, tmp_path / "lot.jsonl")
    engine, _ = ready_engine(database)
    left.append(rows(engine))
    engine.dispose()
    assert left[0] == left[1] == left[2]
    assert [said[:2] for said in left[0]["said"]] == [
        ("cord", "Fell 3 mm"), ("stock", "Fell 3 mm"), ("cord", "Fell 3.1 mm"), ("stock", "Fell 3.1 mm"),
        ("stock", "Fell 3.1 mm"), ("cord", "Fell 3.1 mm"),
    ]  # fmt: skip
    assert left[0]["cords"] == left[0]["stock"] == []


def test_what_was_done_is_said_and_can_be_undone(client: TestClient) -> None:
    answer = send(client, RIDGE, **form(client, RIDGE, pressed="2.2 mm"))
    after = client.get(answer.headers["location"])
    assert "pressed" in after.text
    assert "/undo" in after.text
    number = answer.headers["location"].rsplit("=", 1)[1]
    assert client.post(f"{API}/history/{number}/undo", headers=OWN).status_code == 201
    assert "Taken back" in client.get(answer.headers["location"]).text


def test_an_edit_that_rests_on_an_old_version_shows_both_values_and_keeps_what_was_typed(
    client: TestClient,
) -> None:
    mine = form(client, RIDGE, pressed="2.2 mm", notes="mine <b>")
    assert send(client, RIDGE, **form(client, RIDGE, pressed="2.3 mm", supplier="fair")).status_code == 303
    refused = send(client, RIDGE, **mine)
    assert refused.status_code == 409
    assert "stored now: 2.3 mm" in refused.text
    assert 'value="2.2 mm"' in refused.text
    assert "mine &lt;b&gt;" in refused.text
    # What somebody else changed and this form did not stays as it is stored.
    told = send(client, RIDGE, **{**form(client, RIDGE), **{k: mine[k] for k in ("pressed", "notes")}})
    assert told.status_code == 303
    fields = {one["key"]: one["stored"] for one in data(client, RIDGE)["fields"]}
    assert (fields["pressed"], fields["supplier"], fields["notes"]) == ("2.2 mm", "fair", "mine <b>")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"diameter": "thick"}, "is not a diameter"),
        ({"price_per_m": "dear"}, "is not a price"),
        ({"name": ""}, "a cord needs a name"),
        ({"name": "Fell 3 mm"}, "is the name of another cord"),
        ({"linear_density": "7 mm"}, "a linear density cannot be meant in mm"),
    ],
)
def test_what_cannot_be_taken_is_told_beside_its_field(
    client: TestClient, typed: dict[str, str], said: str
) -> None:
    refused = send(client, RIDGE, **form(client, RIDGE, **typed, notes="stays"))
    assert refused.status_code == 422
    assert said in refused.text
    assert ">\nstays</textarea>" in refused.text
    assert f'id="{next(iter(typed))}-help"' in refused.text


def test_a_lot_that_cannot_be_taken_is_told_beside_its_field_and_stays_as_typed(client: TestClient) -> None:
    lot = {"colour-new": "teal <1>", "metres-new": "many", "do": "lot-add"}
    refused = send(client, RIDGE, **lot)
    assert refused.status_code == 422
    assert "is not a length of cord" in refused.text
    assert 'value="teal &lt;1&gt;"' in refused.text
    assert 'id="metres-new-help"' in refused.text
    assert send(client, RIDGE, **{**lot, "metres-new": "100 ft"}).status_code == 303
    again = send(client, RIDGE, **{**lot, "metres-new": "100 ft"})
    assert again.status_code == 409
    assert "in the workshop already" in again.text
    (added,) = [one for one in data(client, RIDGE)["lots"] if one["colour"] == "teal <1>"]
    assert float(added["metres"]) == pytest.approx(30.48)
    key = added["key"]
    stale = send(client, RIDGE, **{f"version-{key}": "0", "do": f"lot-remove {key}"})
    assert stale.status_code == 409
    assert "changed elsewhere" in stale.text


def test_a_cord_in_a_whip_is_not_removed_and_the_whips_are_named(demo: TestClient) -> None:
    version = str(data(demo, RIDGE)["version"])
    refused = send(demo, RIDGE, do="remove", version=version)
    assert refused.status_code == 422
    assert "is named by" in refused.text
    holm = "/cords/Holm%203%20mm"
    gone = send(demo, holm, do="remove", version=str(data(demo, holm)["version"]))
    assert gone.headers["location"].startswith("/cords?change=")
    assert demo.get(holm).status_code == 404


def test_bare_numbers_are_in_the_units_that_are_shown(client: TestClient) -> None:
    remember(Preferences(ShownUnits("in", "in")))
    try:
        kept = send(client, "/new-cord", name="Tarn", material="nylon", touching="5/32", pressed="2 mm")
        assert kept.status_code == 303, kept.text
        record = client.get(f"{API}/cords/Tarn").json()["record"]
        assert record["diameter_mm"] == pytest.approx(25.4 * 5 / 32)
        assert record["pressed_mm"] == pytest.approx(2)
        assert send(client, "/cords/Tarn", **form(client, "/cords/Tarn", flat_width="0.2")).status_code == 303
        record = client.get(f"{API}/cords/Tarn").json()["record"]
        assert record["flat_width_mm"] == pytest.approx(5.08)
    finally:
        remember(Preferences())


def test_names_with_anything_in_them(client: TestClient) -> None:
    for name in ("a/b", "..", '100 % <hemp> "x?y#z'):
        kept = send(client, "/new-cord", name=name, material="hemp & wool", touching="4")
        assert kept.status_code == 303, kept.text
        page = client.get(kept.headers["location"])
        assert page.status_code == 200
        assert "<hemp>" not in page.text
        quoted = kept.headers["location"].split("?")[0].removeprefix("/cords/")
        assert client.get(f"/advice/{quoted}").status_code == 200
