"""Everything out by pages: each link leads to a file that is what it says."""

import csv
import io
import re
import zipfile

from starlette.testclient import TestClient

from plaitlog.service.usecases.spreadsheets.catalogue import TABLES


def links(client: TestClient) -> list[str]:
    return re.findall(r'href="(/export/[^"]+)"', client.get("/export").text)


def test_every_link_downloads_a_file_of_its_name(demo: TestClient) -> None:
    found = links(demo)
    assert len(found) == len(TABLES) + 5  # records, workbook, archive, report on the fit, notebook
    for address in found:
        answer = demo.get(address)
        assert answer.status_code == 200, address
        disposition = answer.headers["content-disposition"]
        name = address.rpartition("/")[2].replace("fit.html", "fit-1.html")
        assert disposition == f'attachment; filename="{name}"'
        assert answer.content
    report = demo.get("/export/fit.html").text
    assert "<script" not in report
    assert 'src="' not in report


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


def test_an_empty_workshop_has_no_fit_and_no_photos_to_give(empty: TestClient) -> None:
    assert empty.get("/export/fit.html").status_code == 404
    found = links(empty)
    assert "/export/fit.html" not in found
    assert "/export/photos.zip" not in found
    assert empty.get("/export/records.jsonl").content == b""
