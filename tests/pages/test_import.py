"""Import by pages: nothing is asked that the file tells, nothing is written that was not shown."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from typer.testing import CliRunner

from plaitlog.models.errors import NotFoundError
from plaitlog.service import staged_uploads
from plaitlog.service.cli.main import app
from plaitlog.service.staged_uploads import KEPT_AT_MOST, all_staged, download_name, shown_name, staged
from plaitlog.service.usecases.spreadsheets.catalogue import TABLES
from plaitlog.service.usecases.spreadsheets.mapped import Choices
from plaitlog.service.usecases.spreadsheets.matching import keys_of, match_headers
from tests.api.server import serving
from tests.pages.conftest import HTML
from tests.pages.import_forms import chosen, pasted, sent, shown, untouched
from tests.spreadsheets.makers_files import notebook, office_export

BOOK = "Label\tMaker\tD0\tD12\tMood\nB1\tOrrin\t20.5\t17\tgood\nB2\tTamsin\t19.5\t1x6\tfair\n"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A user's data folder of its own: what waits and what is remembered lies there."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "share"))
    return tmp_path / "share" / "plaitlog"


@pytest.fixture
def other(tmp_path: Path) -> Iterator[TestClient]:
    with serving(str(tmp_path / "other.db")) as client:
        client.headers.update(HTML)
        yield client


def records(client: TestClient) -> bytes:
    content: bytes = client.get("/export/records.jsonl").content
    return content


def test_what_is_not_known_is_asked_and_rows_are_put_right_on_the_page(empty: TestClient) -> None:
    address = pasted(empty, BOOK)
    data = shown(empty, address)
    assert {one["code"] for one in data["questions"]} == {"column-unknown", "unit-missing"}
    assert not any("--" in one["remedy"] for one in data["questions"])
    assert data["report"] is None
    assert sent(empty, address, s0_station="in", s0_c4_key="notes", check="yes") == address
    report = shown(empty, address)["report"]
    assert report["counts"] == {"add": 1, "update": 0, "there_already": 0, "rejected": 1}
    row = report["rejected"][0]
    assert [cell["header"] for cell in row["cells"] if cell["wrong"]] == ["D12"]
    assert "1x6" in row["findings"][0]["text"]
    assert records(empty) == b"", "nothing is written by looking"
    sent(empty, address, cell_0_3="16", check="yes")
    assert shown(empty, address)["report"]["counts"]["rejected"] == 0
    done = sent(empty, address, take="yes")
    assert done == "/import?change=1"
    page = empty.get(done)
    assert "/changes/1/undo" in page.text
    assert b'"at_mm":304.8,"at":"12 in","diameter_mm":16' in records(empty)
    assert b'"notes":"fair"' in records(empty)
    assert empty.get(address).status_code == 404, "what is imported is kept no longer"


def test_what_was_said_is_remembered_and_shared_with_the_command_line(empty: TestClient, home: Path) -> None:
    address = pasted(empty, BOOK)
    sent(empty, address, s0_station="in", s0_c4_key="-", cell_0_3="16", check="yes")
    sent(empty, address, cell_0_3="16", check="yes")
    sent(empty, address, take="yes")
    assert (home / "tables.json").exists()
    again = shown(empty, pasted(empty, BOOK.replace("B", "C").replace("1x6", "16")))
    assert again["questions"] == []
    assert again["sheets"][0]["recalled"]
    assert again["report"]["counts"]["add"] == 2


def test_import_does_not_take_what_was_not_shown(empty: TestClient) -> None:
    address = pasted(empty, "Label\tWeight\nB1\t400 g\n")
    assert sent(empty, address, s0_c1_key="notes", take="yes") == f"{address}?look=again"
    assert records(empty) == b""
    other = pasted(empty, "Label\nB2\n")
    assert sent(empty, other, take="yes") == "/import?change=1"
    assert shown(empty, address)["stale"]
    assert sent(empty, address, take="yes") == f"{address}?look=again", "the workshop is another now"
    assert sent(empty, address, take="yes") == "/import?change=2"


def test_sound_rows_are_taken_and_the_others_stay_to_be_mended(empty: TestClient) -> None:
    content = office_export("cp1252").replace(b"398", b"none at all")
    address = chosen(empty, "../../office.csv", content)
    data = shown(empty, address)
    assert data["name"] == "office.csv"
    assert data["report"]["counts"]["rejected"] == 1
    download = empty.get(f"{address}/rejected")
    assert download.headers["content-disposition"] == 'attachment; filename="office.rejected.csv"'
    assert b"none at all" in download.content
    assert sent(empty, address, take="yes") == f"{address}?change=1"
    report = shown(empty, address)["report"]
    assert report["counts"] == {"add": 0, "update": 0, "there_already": 1, "rejected": 1}
    [wrong] = [cell["column"] for cell in report["rejected"][0]["cells"] if cell["wrong"]]
    sent(empty, address, **{f"cell_0_{wrong}": "398"}, check="yes")
    assert sent(empty, address, take="yes") == "/import?change=2"
    assert b'"weight_g":398' in records(empty)


def test_lines_of_records_are_put_right_too(empty: TestClient) -> None:
    address = chosen(empty, "records.jsonl", b'{"kind":"maker","name":"Orrin"}\n{"kind":"maker","nme":"T"}\n')
    assert shown(empty, address)["report"]["counts"]["rejected"] == 1
    sent(empty, address, cell_0_0='{"kind":"maker","name":"Tamsin"}', check="yes")
    assert sent(empty, address, take="yes") == "/import?change=1"
    assert records(empty).count(b"\n") == 2


def test_sheets_of_a_workbook_are_read_as_is_said_of_each(empty: TestClient) -> None:
    address = chosen(empty, "book.xlsx", notebook())
    data = shown(empty, address)
    assert [(x["name"], x["table"]) for x in data["sheets"]] == [("Whips", "whips"), ("Cords", "cords")]
    assert data["report"]["counts"]["add"] == 5
    form = untouched(data)
    del form["s1-read"]
    empty.post(address, data={**form, "check": "yes"})
    data = shown(empty, address)
    assert [sheet["read"] for sheet in data["sheets"]] == [True, False]
    assert data["report"]["counts"]["rejected"] == 3, "without their cords the whips cannot be taken"


@pytest.mark.parametrize("name", ["records.jsonl", "workshop.xlsx"])
def test_an_export_comes_back_without_a_question(client: TestClient, other: TestClient, name: str) -> None:
    content = client.get(f"/export/{name}").content
    address = chosen(other, name, content)
    data = shown(other, address)
    assert data["questions"] == []
    assert data["report"]["counts"]["rejected"] == 0
    assert sent(other, address, take="yes") == "/import?change=1"
    assert records(other) == records(client)
    assert shown(other, chosen(other, name, content))["report"]["taken"] == 0


def test_page_programs_and_command_line_leave_the_same_rows(
    empty: TestClient, other: TestClient, tmp_path: Path
) -> None:
    cells = BOOK.replace("1x6", "16.5").replace("\t", ",")
    (tmp_path / "book.csv").write_text(cells)
    address = chosen(empty, "book.csv", cells.encode())
    sent(empty, address, s0_station="in", s0_c4_key="notes", check="yes")
    sent(empty, address, take="yes")
    asked = {"map": "Mood=notes", "units": "station=in", "source": "book.csv"}
    sent_ = other.post("/api/v1/imports", params=asked, content=cells, headers={"Content-Type": "text/csv"})
    assert sent_.json()["counts"]["add"] == 2
    line = CliRunner()
    third = ["--database", str(tmp_path / "third.db")]
    file, said = str(tmp_path / "book.csv"), ["--map", "Mood=notes", "--units", "station=in"]
    assert line.invoke(app, ["import", file, *said, *third]).exit_code == 0
    told = line.invoke(app, ["export", *third]).stdout.encode()
    assert records(empty) == records(other) == told


def test_each_column_can_be_chosen_by_its_key() -> None:
    for table in TABLES:
        for key in keys_of(table):
            match = match_headers(["Anything"], table, Choices({"Anything": key}, table=table.name))
            assert [each.column.key for each in match.columns] == [key], (table.name, key)


def test_what_cannot_be_read_is_refused_in_words_and_what_was_pasted_stays(empty: TestClient) -> None:
    assert empty.post("/import", data={"cells": " "}).status_code == 422
    twice = empty.post("/import", data={"cells": "Label\tNotes\tNotes\nB1\ta\tb\n"})
    assert twice.status_code == 422
    assert "B1\ta\tb" in twice.text
    pdf = empty.post("/import", files={"file": ("x.csv", b"%PDF-1.7 ...")})
    assert pdf.status_code == 422
    assert "a PDF document" in pdf.text
    assert all_staged("imports") == []


def test_readings_need_a_station(empty: TestClient) -> None:
    address = pasted(empty, "Label\tMood\nB1\t17 mm\n")
    form = {**untouched(shown(empty, address)), "s0-c1-key": "reading", "check": "yes"}
    refused = empty.post(address, data=form)
    assert refused.status_code == 422
    assert "where the readings under &#39;Mood&#39; were measured" in refused.text
    assert sent(empty, address, s0_c1_key="reading", s0_c1_at="12 in") == address
    assert shown(empty, address)["report"]["readings_added"] == 1


def test_names_are_no_paths_and_tokens_cannot_be_made_up(empty: TestClient) -> None:
    assert shown_name("..\\..\\x/../passwd\0") == "passwd"
    assert download_name('a"b\r\nc; /x.csv') == "a-b-c-x.csv"
    assert download_name("\u2026") == "file"
    for token in ("..", ".", "", "a" * 32, "../imports", "x" * 31 + "/"):
        with pytest.raises(NotFoundError):
            staged(token, "imports")
    assert empty.get(f"/import/{'a' * 32}").status_code == 404


def test_what_waits_holds_no_more_than_it_may(empty: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(staged_uploads, "KEPT_BYTES", 30)
    for number in range(5):
        pasted(empty, f"Label\nB{number:05}\n")  # 13 bytes, with the line breaks of a form 14 to 16
    assert len(all_staged("imports")) <= 3


def test_only_so_many_files_wait(empty: TestClient) -> None:
    for number in range(KEPT_AT_MOST + 3):
        pasted(empty, f"Label\nB{number}\n")
    waiting = all_staged("imports")
    assert len(waiting) == KEPT_AT_MOST
    assert "pasted cells" in empty.get("/import").text
    empty.post(f"/import/{waiting[0].token}", data={"discard": "yes"})
    assert len(all_staged("imports")) == KEPT_AT_MOST - 1
