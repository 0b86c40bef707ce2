"""Bench sheets by pages: of a plan, of a whip on the bench, of what lies ahead; as pages, PDF and files."""

import io
import json
import re
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from starlette.testclient import TestClient

from tests.api.server import API, given, serving
from tests.pages.conftest import HTML
from tests.pages.test_planning import AT, LABEL, SPEC, TYPED, address_of, data, send
from tests.pages.workshops import demo_copy

PAPERS_MM = {"a4": (210, 297), "letter": (215.9, 279.4)}


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A demo with a plan, and the address of its sheet."""
    with serving(demo_copy(tmp_path_factory.mktemp("sheets"))) as client:
        client.headers.update(HTML)
        address = address_of(client)
        send(client, address, TYPED)
        yield client, address.replace("/plan/", "/sheets/plans/") + "/1"


@pytest.mark.parametrize("paper", PAPERS_MM)
def test_it_is_printed_on_the_paper_that_is_asked_for(planned: Any, paper: str) -> None:
    client, address = planned
    answer = client.get(f"{address}?file=pdf&paper={paper}")
    assert answer.headers["content-type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(answer.content)).pages
    for page in pages:
        size = [float(side) / 72 * 25.4 for side in page.mediabox[2:]]
        assert size == pytest.approx(PAPERS_MM[paper], abs=0.5)
    told = data(client, f"{address}?paper={paper}")
    assert len(told["pages"]) == len(pages)
    assert "Short one" in pages[0].extract_text()


def test_its_page_shows_each_caution_once_and_brings_no_style_of_its_own(planned: Any) -> None:
    client, address = planned
    shown = client.get(address).text
    assert not re.search(r"\sstyle=", shown)
    said = re.sub(r"<[^>]+>", " ", shown)
    for caution in ("Take care", "sharp blades", "burning nylon", "Local rules and a qualified teacher"):
        assert said.count(caution) == 1, caution
    assert client.get(f"{address}?paper=a3").status_code == 422


def test_a_plan_json_from_a_page_begins_a_whip_by_the_interface(planned: Any) -> None:
    client, address = planned
    plan = json.loads(client.get(f"{address}?file=json").content)
    assert plan["spec"] == SPEC
    body = {"whip": "By file", "plan": plan}
    started = client.post(f"{API}/bench/start", json=body, headers={"Accept": "application/json"})
    assert given(started, 201)["record"]["status"] == "on the bench"
    for file, start in (("html", b"<!DOCTYPE html>"), ("drawing", b"<svg")):
        answer = client.get(f"{address}?file={file}")
        assert answer.content.startswith(start)
        assert "attachment" in answer.headers["content-disposition"]


def test_the_sheet_of_a_whip_is_whole_until_it_is_measured_then_of_what_lies_ahead(demo: TestClient) -> None:
    address = address_of(demo)
    send(demo, address, TYPED)
    send(demo, f"{address}/start", {"number": "1", "start_label": LABEL})
    sheet = f"/sheets/whips{AT}"
    whole = data(demo, sheet)
    assert not whole["ahead"]
    assert "on the bench" in whole["about"]
    reading = {"whip": LABEL, "at_mm": 300, "diameter_mm": 12.0}
    given(demo.post(f"{API}/readings", json=reading, headers={"Accept": "application/json"}), 201)
    ahead = data(demo, sheet)
    assert ahead["ahead"]
    assert any("layer 2 (overlay), plaited to 300" in page for page in ahead["pages"])
    assert not data(demo, f"{sheet}?whole=true")["ahead"]
    shown = demo.get(sheet).text
    assert f'href="/measure{AT}"' in shown
    assert f'href="/whips{AT}"' in shown


def test_a_whip_without_a_plan_has_no_sheet_and_the_page_says_why(planned: Any) -> None:
    client, _ = planned
    answer = client.get("/sheets/whips/2022-008")
    assert answer.status_code == 422
    assert "no plan is kept with 2022-008" in answer.text


def test_a_choice_that_nobody_asked_for_can_be_begun_and_planned_again(tmp_path: Path) -> None:
    """Without the belly that was asked for the question changes too, else nothing could be kept of it."""
    with serving(demo_copy(tmp_path)) as client:
        client.headers.update(HTML)
        address = address_of(client)
        belly = {**TYPED, "layers": "3", "l2_role": "belly", "l2_cord": "Beck 2.5 mm", "l2_start": "6"}
        belly["thong_length"] = "600 mm"
        belly |= {"l3_role": "overlay", "l3_cord": "Beck 2.5 mm", "l3_start": "16"}
        send(client, address, belly, "beside")
        plans = data(client, address)["plans"]
        (without,) = [one for one in plans if one["words"].startswith("without a belly")]
        begun = {"number": str(without["number"]), "start_label": LABEL}
        assert send(client, f"{address}/start", begun).status_code == 303
        record = given(client.get(f"{API}/whips{AT}", headers={"Accept": "application/json"}))["record"]
        assert [layer["role"] for layer in record["layers"]] == ["core", "overlay"]
        again = send(client, f"/replan{AT}", {"layer": "1", "to": "200 mm"}, "again")
        assert again.status_code == 303
