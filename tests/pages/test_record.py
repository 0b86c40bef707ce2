"""The recording page by its data and its forms: nothing typed is lost, one whip for one form."""

import json
import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from plaitlog.service.database import reading
from plaitlog.service.usecases.recording.bench import bench_of
from plaitlog.service.usecases.recording.form import fill
from plaitlog.service.usecases.recording.record import records
from plaitlog.service.usecases.shown_units import ShownUnits
from tests.api.server import serving
from tests.cli.conftest import Run, home, run  # noqa: F401 - fixtures
from tests.cli.lines import FELL, RIDGE
from tests.pages.conftest import HTML

AS_DATA = {"Accept": "application/json"}
WHIP = {
    "label": "N-07", "type": "stock whip", "maker": "Orrin", "status": "finished", "made_on": "2025-07-04",
    "datum": "handle end", "thong_length": "6'", "layer.1": "core 12A; ~20: -2; ?: -2; 28..34: end",
    "cord.A": "ridge", "layer.2": "overlay 16B; 30: -2 each 4 to 8 tuck 3; p", "cord.B": "Fell 3 mm",
    "complete": "yes", "readings.1": "thick 18,5; mid 13; p 7,2", "weight": "412 with fall",
    "fall": "white hide", "rate": "yes", "rating.ease": "7", "notes": "green notebook",
}  # fmt: skip


def begun(client: TestClient, query: str = "") -> dict[str, Any]:
    found: dict[str, Any] = client.get(f"/record{query}", headers=AS_DATA).json()
    return found


def sent(client: TestClient, sheet: dict[str, Any], typed: dict[str, str], **steering: str) -> Any:
    steered = {
        "mode": sheet["mode"],
        "tab": sheet["tab"],
        "seen": str(sheet["seen"]),
        "turn": str(sheet["turn"]),
    }
    return client.post(
        f"/record/{sheet['token']}", data={**steered, **typed, **steering}, follow_redirects=False
    )


def block(data: dict[str, Any], key: str) -> dict[str, Any]:
    (found,) = [block for group in data["groups"] for block in group["blocks"] if block["key"] == key]
    return dict(found)


def values(data: dict[str, Any]) -> dict[str, str]:
    return {block["key"]: block["value"] for group in data["groups"] for block in group["blocks"]}


def labels(client: TestClient) -> list[str]:
    return [item["label"] for item in client.get("/api/v1/whips", headers=AS_DATA).json()["items"]]


def exported(client: TestClient) -> list[dict[str, Any]]:
    lines = client.get("/api/v1/exports/records.jsonl", headers=AS_DATA).text.splitlines()
    return [json.loads(line) for line in lines]


def test_page_prompt_and_interface_leave_the_same_rows(
    empty: TestClient,
    run: Run,  # noqa: F811
    tmp_path: Path,
) -> None:
    add_cords(empty)
    by_page = sent(empty, begun(empty), WHIP, do="keep")
    assert by_page.status_code == 303
    assert by_page.headers["location"].startswith("/whips/N-07?change=")
    rows = exported(empty)

    run("import", "-", typed="\n".join(json.dumps(cord) for cord in (RIDGE, FELL)))
    answers = [  # the units are remembered from the page
        "N-07", "stock whip", "Orrin", "finished", "2025-07-04", "handle end", "6'", *["-"] * 4,
        WHIP["layer.1"], "ridge", WHIP["layer.2"], "fell", "yes", WHIP["readings.1"], *["-"] * 3,
        "412 with fall", *["-"] * 3, "white hide", "-", "yes", "-", "7", *["-"] * 10, "green notebook", "yes",
    ]  # fmt: skip
    run("record", typed="\n".join(answers))
    assert [json.loads(line) for line in run("export").stdout.splitlines()] == rows

    with serving(str(tmp_path / "interface.db")) as programs:
        add_cords(programs)
        engine = programs.app.state.engine  # type: ignore[attr-defined]
        with reading(engine) as session:
            bench = bench_of(session, ShownUnits())
        for record in records(fill(WHIP, "new", bench).draft, bench):
            given = programs.post(f"/api/v1/{record['kind']}s", json=record)
            assert given.status_code == 201, given.text
        assert exported(programs) == rows


def add_cords(client: TestClient) -> None:
    for cord in (RIDGE, FELL):
        assert client.post("/api/v1/cords", json=cord, headers=AS_DATA).status_code == 201


def test_the_label_alone_is_enough(empty: TestClient) -> None:
    sheet = begun(empty)
    assert sent(empty, sheet, {"label": "a"}, do="keep").status_code == 303
    assert labels(empty) == ["a"]


def test_a_form_sent_twice_makes_one_whip(client: TestClient) -> None:
    sheet = begun(client)
    first, second = (sent(client, sheet, {"label": "twice"}, do="keep") for _ in range(2))
    assert first.headers["location"] == second.headers["location"]
    assert labels(client).count("twice") == 1
    assert client.get(f"/record/{sheet['token']}", follow_redirects=False).status_code == 303


def test_two_presses_at_once_make_one_whip(client: TestClient) -> None:
    sheet = begun(client)
    with ThreadPoolExecutor(4) as presses:
        answers = list(presses.map(lambda _: sent(client, sheet, {"label": "at once"}, do="keep"), range(4)))
    assert {answer.status_code for answer in answers} == {303}
    assert len({answer.headers["location"] for answer in answers}) == 1
    assert labels(client).count("at once") == 1


def test_a_form_can_be_sent_again_once_its_whip_was_taken_back(client: TestClient) -> None:
    sheet = begun(client)
    kept = sent(client, sheet, {"label": "again"}, do="keep")
    change = kept.headers["location"].partition("change=")[2]
    assert client.post(f"/api/v1/history/{change}/undo", headers=AS_DATA).status_code < 300
    assert "again" not in labels(client)
    assert sent(client, sheet, {"label": "again"}, do="keep").status_code == 303
    assert "again" in labels(client)


def test_every_slip_stands_beside_its_field_and_the_draft_is_kept(client: TestClient) -> None:
    before, sheet = labels(client), begun(client)
    typed = {**WHIP, "thong_length": "long", "weight": "fat", "label": ""}
    answer = sent(client, sheet, typed, do="keep")
    assert answer.status_code == 422
    for key, words in (
        ("label", "Label is needed"), ("thong_length", "write it like"), ("weight", "write it like"),
    ):  # fmt: skip
        beside = re.search(rf'id="{key}-help"[^>]*>(.*?)</div>', answer.text, re.DOTALL)
        assert beside is not None
        assert words in beside[1]
    assert f'value="{WHIP["type"]}"' in answer.text
    again = client.get(f"/record/{sheet['token']}", headers=AS_DATA).json()
    assert {key: text for key, text in values(again).items() if text} == {
        key: text for key, text in typed.items() if text
    }
    assert labels(client) == before
    assert [one["token"] for one in begun(client)["unfinished"]] == [sheet["token"]]


def test_what_only_the_whole_can_refuse_keeps_the_form_too(client: TestClient) -> None:
    answer = sent(client, begun(client), {**WHIP, "readings.1": "80: 7.2"}, do="keep")
    assert answer.status_code == 422
    assert "past the point" in answer.text
    assert "80: 7.2" in answer.text
    assert "N-07" not in labels(client)


def test_the_draft_goes_with_the_whip_and_late_saves_do_not_bring_it_back(client: TestClient) -> None:
    sheet = begun(client)
    sent(client, sheet, WHIP, do="look")
    assert len(begun(client)["unfinished"]) == 1
    sent(client, sheet, WHIP, do="keep")
    assert begun(client)["unfinished"] == []
    late = client.post(f"/record/{sheet['token']}/look", data=WHIP, headers=AS_DATA).json()
    assert late["state"] == "recorded"
    assert begun(client)["unfinished"] == []


def test_a_draft_is_put_aside_and_brought_back(client: TestClient) -> None:
    sheet = begun(client)
    sent(client, sheet, WHIP, do="look")
    aside = client.post(f"/record/{sheet['token']}/aside")
    assert "Bring it back" in aside.text
    assert begun(client)["unfinished"] == []
    back = client.post(f"/record/{sheet['token']}/back")
    assert "green notebook" in back.text


def test_a_window_left_behind_is_kept_beside(client: TestClient) -> None:
    sheet = begun(client)
    newer = sent(client, sheet, {**WHIP, "notes": "newer"}, do="look")
    assert newer.status_code == 200
    behind = {**sheet, "tab": "another-window"}
    assert "kept beside it" in sent(client, behind, {**WHIP, "notes": "older"}, do="look").text
    kept = [
        client.get(f"/record/{one['token']}", headers=AS_DATA).json() for one in begun(client)["unfinished"]
    ]
    assert sorted(values(one)["notes"] for one in kept) == ["newer", "older"]


def test_looking_it_over_says_it_in_words_draws_it_and_compares_readings(demo: TestClient) -> None:
    sheet = begun(demo)
    typed = {
        "label": "X", "type": "bullwhip", "datum": "handle end", "thong_length": "6'",
        "layer.1": "core 6A; 12: -1 each 3 to 0 cut", "cord.A": "Ridge 4 mm",
        "layer.2": "overlay 16A; 40: -2 each 4 to 8 tuck 3; p", "complete": "yes",
        "readings.1": "4: 15 4.1; 8: 15",
    }  # fmt: skip
    data = demo.post(f"/record/{sheet['token']}/look", data=typed, headers=AS_DATA).json()
    assert block(data, "layer.2")["echo"] == [
        "overlay: 16 strands of A (Ridge 4 mm); at 40 in 14, then every 4 in two fewer down to 8; "
        "dropped strands tucked 3 in; runs to the point"
    ]
    assert [line["far"] for line in data["look"]["beside"]] == [False, True, False]
    assert all(line["expected"].endswith(" mm") for line in data["look"]["beside"])
    assert data["look"]["caution"] == "Predictions are estimates; measure while you build."
    assert "usable for: fit 3 of 3 readings" in data["look"]["use"][0]
    assert [strip["layer"] for strip in data["look"]["strips"]] == ["1 core", "2 overlay"]
    assert data["look"]["sketch"].count('class="out"') == 1
    assert "style=" not in data["look"]["sketch"]


def test_step_by_step_is_the_same_as_a_line_and_goes_both_ways(client: TestClient) -> None:
    sheet = begun(client)
    rows = {
        "label": "rows", "type": "bullwhip", "how.layer.1": "rows", "was.layer.1": "rows",
        "rows.layer.1.role": "overlay", "rows.layer.1.start": "16", "rows.layer.1.1.place": "30",
        "rows.layer.1.1.count": "14", "rows.layer.1.1.fate": "tuck", "rows.layer.1.1.tucked": "3",
        "rows.layer.1.2.place": "34", "rows.layer.1.2.count": "12", "rows.layer.1.2.fate": "tuck",
        "rows.layer.1.2.tucked": "3", "rows.layer.1.closing": "p", "how.readings.1": "rows",
        "was.readings.1": "rows", "rows.readings.1.1.at": "0", "rows.readings.1.1.first": "19.2",
        "rows.readings.1.1.second": "18.8",
    }  # fmt: skip
    looked = client.post(f"/record/{sheet['token']}/look", data=rows, headers=AS_DATA).json()
    assert block(looked, "layer.1")["value"] == "overlay 16; 30: =14 tuck 3; 34: =12; p"
    assert block(looked, "readings.1")["value"] == "0: 19.2/18.8"
    line = block(looked, "layer.1")["value"]
    turned = {"label": "rows", "how.layer.1": "rows", "was.layer.1": "line", "layer.1": line}
    steps = block(
        client.post(f"/record/{sheet['token']}/look", data=turned, headers=AS_DATA).json(), "layer.1"
    )
    assert [row["place"] for row in steps["layer"]["rows"]] == ["30", "34", "", ""]
    back = {**rows, "how.layer.1": "line"}
    as_line = block(
        client.post(f"/record/{sheet['token']}/look", data=back, headers=AS_DATA).json(), "layer.1"
    )
    assert (as_line["how"], as_line["value"]) == ("line", line)
    assert sent(client, sheet, rows, do="keep").status_code == 303
    stored = next(record for record in exported(client) if record.get("label") == "rows")
    assert stored["layers"][0]["strands"] == [[0, 16], [762, 14], [863.6, 12]]
    assert [reading["diameter_mm"] for reading in stored["readings"]] == [19.2, 18.8]


def test_what_is_typed_for_questions_no_longer_asked_stays(client: TestClient) -> None:
    sheet = begun(client)
    typed = {"label": "a", "layer.1": "overlay 16; p", "cord.B": "Fell 3 mm", "layer.2": "p"}
    data = client.post(f"/record/{sheet['token']}/look", data=typed, headers=AS_DATA).json()
    assert data["unasked"] == {"cord.B": "Fell 3 mm", "layer.2": "p"}


def test_a_proposal_is_taken_when_it_is_asked_for(demo: TestClient) -> None:
    sheet = begun(demo)
    assert block(sheet, "thong_length")["value"] == ""
    proposed = block(sheet, "thong_length")["proposal"]
    assert proposed
    page = sent(demo, sheet, values(sheet), take="thong_length")
    assert f'name="thong_length" value="{proposed}"' in page.text
    whole = sent(demo, sheet, values(sheet), take="group:lengths")
    left = re.findall(r'name="take" value="(\w+)"', whole.text)
    assert not {"thong_length", "handle_length", "foundation"} & set(left)


@pytest.mark.parametrize("query", ["?like=2026-014", "?other_cord=2026-014"])
def test_new_like_this_begins_with_what_is_recorded(client: TestClient, query: str) -> None:
    copied = values(begun(client, query))
    assert copied["label"] != "2026-014"
    assert copied["thong_length"] == "6 ft"
    assert copied["layer.3"] == "binding 0.2 mm thread to 4 ft"
    assert copied["readings.1"] == ""
    assert copied["weight"] == ""
    assert (copied["cord.A"] == "Ridge 4 mm") == ("like" in query)


def test_what_no_database_can_hold_is_left_out_of_a_draft(client: TestClient) -> None:
    sheet = begun(client)
    body = b"label=a%00b&notes=%ED%A0%80+green&layer.1=%F0%9F%AA%A2"
    typed = {"Content-Type": "application/x-www-form-urlencoded"}
    answer = client.post(f"/record/{sheet['token']}/look", content=body, headers={**AS_DATA, **typed})
    assert answer.status_code == 200
    again = values(client.get(f"/record/{sheet['token']}", headers=AS_DATA).json())
    assert again["label"] == "ab"
    assert again["notes"].endswith("green")
    assert again["layer.1"] == "🪢"


def test_an_old_whip_is_asked_the_main_questions_only(client: TestClient) -> None:
    asked = values(begun(client, "?old=yes"))
    assert {"label", "thong_length", "layer.1", "readings.1", "notes"} <= set(asked)
    assert not {"weight", "rate", "turn_lengths", "status"} & set(asked)


def test_an_unknown_whip_is_refused_and_an_odd_token_too(client: TestClient) -> None:
    assert client.get("/record?like=nothing").status_code == 404
    assert client.get("/record/..%2f..", headers=HTML).status_code in {404, 422}


@pytest.mark.usefixtures("home")
def test_units_are_asked_once(empty: TestClient) -> None:
    sheet = begun(empty)
    assert "units.lengths" in values(sheet)
    typed = {"label": "a", "units.lengths": "mm", "units.diameters": "mm", "thong_length": "1830"}
    sent(empty, sheet, typed, do="keep")
    assert "units.lengths" not in values(begun(empty))
    assert exported(empty)[-1]["thong_length"] == "1830 mm"
