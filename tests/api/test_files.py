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


NOTEBOOK = "Whip;Maker;Thong length (in);D0;D12\r\nold 7;Wren;66;18,4;16\r\nold 8;Wren;;no;15,5\r\n"
CSV = {"Content-Type": "text/csv; charset=utf-8"}
XLSX = {"Content-Type": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}


def test_a_notebook_is_taken_as_far_as_it_is_sound(empty: TestClient) -> None:
    asked = {"units": ["diameter=mm", "station=in"], "source": "notebook.csv"}
    whole = empty.post(f"{API}/imports", params=asked, content=NOTEBOOK.encode(), headers=CSV)
    refused(whole, 422, "import-refused")
    assert given(empty.get(f"{API}/whips"))["total"] == 0
    tried = {**asked, "partial": "true", "dry_run": "true"}
    report = given(empty.post(f"{API}/imports", params=tried, content=NOTEBOOK.encode(), headers=CSV))
    assert (report["written"], report["change"]) == (False, None)
    assert given(empty.get(f"{API}/whips"))["total"] == 0
    taken = {**asked, "partial": "true"}
    report = given(empty.post(f"{API}/imports", params=taken, content=NOTEBOOK.encode(), headers=CSV))
    assert sum(report["counts"].values()) == 2
    assert report["counts"]["rejected"] == 1
    assert report["said"]
    readings = given(empty.get(f"{API}/readings", params={"whip": "old 7"}))["items"]
    assert [(one["record"]["at_mm"], one["record"]["diameter_mm"]) for one in readings] == [
        (0, 18.4),
        (304.8, 16),
    ]


def test_tables_go_out_and_come_back_without_change(client: TestClient) -> None:
    lines_before = client.get(RECORDS).content
    names = given(client.get(f"{API}/openapi.json"))["paths"][f"{API}/exports/tables/{{table}}"]["get"]
    tables = names["parameters"][0]["schema"]["enum"]
    assert {"makers", "cords", "whips", "layers", "readings", "ratings"} <= set(tables)
    for table in tables:
        answer = client.get(f"{API}/exports/tables/{table}")
        assert answer.headers["content-type"].startswith("text/csv")
        asked = {"table": table.replace("-", " ")}
        report = given(client.post(f"{API}/imports", params=asked, content=answer.content, headers=CSV))
        assert report["change"] is None, table
    workbook = client.get(f"{API}/exports/workshop.xlsx")
    assert workbook.headers["content-type"] == XLSX["Content-Type"]
    assert given(client.post(f"{API}/imports", content=workbook.content, headers=XLSX))["change"] is None
    assert client.get(RECORDS).content == lines_before
    refused(client.get(f"{API}/exports/tables/reading"), 404, "table-not-found")


def test_what_is_no_table_is_refused_whole(empty: TestClient) -> None:
    for content, headers in (
        (b"PK\x03\x04 and no more", XLSX),
        (b"", CSV),
        (b"\x00\x01\x02", CSV),
        (b"no,header,here\n1,2,3\n", CSV),
    ):
        refused(empty.post(f"{API}/imports", content=content, headers=headers), 422)
    refused(empty.post(f"{API}/imports?map=a=b", content=b"", headers=LINES), 422, "not-a-table")
    refused(empty.post(f"{API}/imports?map=ab", content=b"", headers=CSV), 422, "pair")


def test_of_a_long_file_rows_with_findings_are_listed_first(empty: TestClient) -> None:
    many = [{"kind": "maker", "name": f"M{number}"} for number in range(1_200)]
    content = lines(*many) + b"\n{}"
    report = given(empty.post(f"{API}/imports?dry_run=1", content=content, headers=LINES))
    assert report["rows"][0]["outcome"] == "rejected"
    assert len(report["rows"]) + report["rows_left_out"] == 1_201
    assert report["rows_left_out"] == 201
