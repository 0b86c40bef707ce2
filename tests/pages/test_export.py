"""Everything out by pages: each link leads to a file that is what it says."""

import csv
import io
import re
import zipfile

from sqlalchemy import Engine
from starlette.testclient import TestClient

from plaitlog.service.database import write
from plaitlog.service.usecases.photos.encoding import EncodedPhoto
from plaitlog.service.usecases.photos.keeping import add_photos
from plaitlog.service.usecases.spreadsheets.catalogue import TABLES


def app_engine(client: TestClient) -> Engine:
    engine: Engine = client.app.state.engine  # type: ignore[attr-defined]
    return engine


def links(client: TestClient) -> list[str]:
    return re.findall(r'href="(/export/[^"]+)"', client.get("/export").text)


def test_every_link_downloads_a_file_of_its_name(client: TestClient) -> None:
    found = links(client)
    assert len(found) == len(TABLES) + 4  # records, workbook, archive, notebook
    for address in found:
        answer = client.get(address)
        assert answer.status_code == 200, address
        name = address.rpartition("/")[2]
        assert answer.headers["content-disposition"] == f'attachment; filename="{name}"'
        assert answer.content


def test_the_report_on_a_fit_needs_no_server(demo: TestClient) -> None:
    assert "/export/fit.html" in links(demo)
    report = demo.get("/export/fit.html")
    assert report.headers["content-disposition"] == 'attachment; filename="fit-1.html"'
    assert "<script" not in report.text
    assert 'src="' not in report.text


def test_pages_and_programs_hand_out_the_same(client: TestClient) -> None:
    assert client.get("/export/records.jsonl").content == client.get("/api/v1/exports/records.jsonl").content
    page, program = client.get("/export/tables/readings.csv"), client.get("/api/v1/exports/tables/readings")
    assert page.content == program.content
    assert client.get("/export/tables/redings.csv").status_code == 404
    assert "did you mean &#39;readings&#39;" in client.get("/export/tables/redings.csv").text


def test_the_archive_of_tables_is_in_the_order_of_an_import(client: TestClient) -> None:
    archive = zipfile.ZipFile(io.BytesIO(client.get("/export/tables.zip").content))
    names = sorted(archive.namelist())
    assert [name[3:-4] for name in names] == [table.name.replace(" ", "-") for table in TABLES]
    whips = next(name for name in names if name.endswith("whips.csv"))
    rows = list(csv.reader(io.StringIO(archive.read(whips).decode("utf-8-sig"))))
    assert rows[0][0] == "Label"
    assert len(rows) > 1


def test_photos_come_in_one_archive_with_a_list_of_what_they_show(client: TestClient) -> None:
    pictures = [EncodedPhoto(f"{i}", 4, 3, b"whole %d" % i, b"small") for i in range(2)]
    label = "2026-014"
    write(app_engine(client), lambda session: add_photos(session, label, pictures, "=the heel knot"))
    archive = zipfile.ZipFile(io.BytesIO(client.get("/export/photos.zip").content))
    rows = list(csv.DictReader(io.StringIO(archive.read("photos.csv").decode("utf-8-sig"))))
    assert [archive.read(row["file"]) for row in rows] == [b"whole 0", b"whole 1"]
    assert {row["whip"] for row in rows} == {label}
    assert not rows[0]["caption"].startswith("="), "no spreadsheet takes it for a formula"
    assert {row["file"] for row in rows} | {"photos.csv"} == set(archive.namelist())
    assert "/export/photos.zip" in links(client)


def test_an_empty_workshop_has_no_fit_and_no_photos_to_give(empty: TestClient) -> None:
    assert empty.get("/export/fit.html").status_code == 404
    found = links(empty)
    assert "/export/fit.html" not in found
    assert "/export/photos.zip" not in found
    assert empty.get("/export/records.jsonl").content == b""
