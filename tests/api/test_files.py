"""Files in and out: all of an import or nothing, and an export that shows every edit."""

import json
from typing import Any

from starlette.testclient import TestClient

from tests.api.server import API, given, refused
from tests.usecases.examples import FELL, RIDGE, WORKSHOP

LINES = {"Content-Type": "application/jsonl"}
RECORDS = f"{API}/exports/records.jsonl"


def lines(*records: Any) -> bytes:
    return b"\n".join(json.dumps(record).encode() for record in records)


def test_an_export_taken_in_elsewhere_is_exported_byte_for_byte(empty: TestClient) -> None:
    report = given(
        empty.post(f"{API}/imports?source=workshop.jsonl", content=lines(*WORKSHOP), headers=LINES)
    )
    assert report["written"]
    assert report["counts"] == {"add": len(WORKSHOP), "update": 0, "there already": 0, "rejected": 0}
    first = empty.get(RECORDS)
    assert first.headers["content-type"] == "application/jsonl"
    again = given(empty.post(f"{API}/imports", content=first.content, headers=LINES))
    assert again["change"] is None
    assert empty.get(RECORDS).content == first.content
    undone = given(empty.post(f"{API}/history/{report['change']}/undo"), 201)
    assert undone["change"] > report["change"]
    assert empty.get(RECORDS).content == b""


def test_an_export_after_an_edit_shows_the_edit(client: TestClient) -> None:
    before = client.get(RECORDS).text.splitlines()
    whip = given(client.get(f"{API}/whips/2026-014"))
    edit = {"version": whip["version"], "changes": {"notes": "edited over the wire", "weight": "1 lb"}}
    given(client.patch(f"{API}/whips/2026-014", json=edit))
    after = client.get(RECORDS).text.splitlines()
    (changed,) = [json.loads(line) for line in set(after) - set(before)]
    assert changed["label"] == "2026-014"
    assert changed["notes"] == "edited over the wire"
    assert (changed["weight_g"], changed["weight"]) == (453.59237, "1 lb")
    assert len(after) == len(before)


def test_one_bad_row_refuses_the_file_and_a_dry_run_lists_it(empty: TestClient) -> None:
    content = lines(RIDGE, {**FELL, "diameter": "-3 mm"}) + b"\nno json\n"
    answer = empty.post(f"{API}/imports", content=content, headers=LINES)
    refused(answer, 422, "import-refused")
    assert [finding["where"].split(",")[0] for finding in answer.json()["findings"]] == ["line 2", "line 3"]
    assert given(empty.get(f"{API}/cords"))["total"] == 0
    report = given(empty.post(f"{API}/imports?dry_run=true", content=content, headers=LINES))
    assert [row["outcome"] for row in report["rows"]] == ["add", "rejected", "rejected"]
    assert sum(report["counts"].values()) == 3
    assert not report["written"]
    assert given(empty.get(f"{API}/cords"))["total"] == 0


def test_of_a_long_file_rows_with_findings_are_listed_first(empty: TestClient) -> None:
    many = [{"kind": "maker", "name": f"M{number}"} for number in range(1_200)]
    content = lines(*many) + b"\n{}"
    report = given(empty.post(f"{API}/imports?dry_run=1", content=content, headers=LINES))
    assert report["rows"][0]["outcome"] == "rejected"
    assert len(report["rows"]) + report["rows_left_out"] == 1_201
    assert report["rows_left_out"] == 201
