"""An import as a person makes it: pasted or from a file, a wrong column put right, rows mended, undone."""

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.axe import serious_findings
from tests.browser.conftest import Opened

CELLS = (
    "Whip\tMade by\tLength\tD0\tD12\tWeighed\n"
    "B1\tOrrin\t6 ft\t20.5\t17\t400 g\nB2\tTamsin\t5 ft\t19.5\t1x6\t380 g\n"
)


def columns_put_right(page: Page) -> None:
    """Weights were taken for something unknown, lengths are read as they are meant."""
    assert "column 'Weighed'" in page.locator(".findings").first.inner_text()
    page.get_by_label("Stations of the reading columns are in").select_option("in")
    page.get_by_label("What Weighed is").select_option(label="Weight")


def fits_everybody(page: Page, scripts: bool) -> bool:
    """Nothing serious from axe-core, which needs scripts, and nothing to scroll sideways."""
    if not scripts:
        return True
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    return serious_findings(page) == []


@pytest.mark.parametrize("scripts", [True, False])
def test_cells_are_pasted_put_right_and_undone(empty_server: str, opened: Opened, scripts: bool) -> None:
    page = opened(f"{empty_server}/import", scripts=scripts, width=390)
    page.get_by_label("Paste cells").fill(CELLS)
    page.get_by_role("button", name="Look at it").click()
    page.wait_for_url("**/import/*")
    assert fits_everybody(page, scripts)
    columns_put_right(page)
    if scripts:  # the rows are shown at once
        page.get_by_text("1 new, 0 changed, 0 there already, 1 refused: 2 rows.").wait_for()
    page.get_by_role("button", name="Check the rows").click()
    expect(page.locator("main")).to_contain_text("1 new, 0 changed, 0 there already, 1 refused: 2 rows.")
    row = page.get_by_role("group", name="Line 3")
    assert "'1x6'" in row.inner_text()
    assert fits_everybody(page, scripts)
    row.get_by_label("D12").fill("16")
    page.get_by_role("button", name="Check again").click()
    page.get_by_role("button", name="Import 2 rows").click()
    expect(page.get_by_role("status")).to_contain_text("whip B1 added")
    assert "Begun and not finished" not in page.inner_text("main")
    page.get_by_role("button", name="Undo").click()
    assert page.request.get(f"{empty_server}/export/records.jsonl").body() == b""


@pytest.mark.parametrize("scripts", [True, False])
def test_a_file_is_taken_but_for_the_rows_that_are_refused(
    empty_server: str, opened: Opened, tmp_path: Path, scripts: bool
) -> None:
    (tmp_path / "book.csv").write_text(CELLS.replace("\t", ",").replace("Weighed", "Weight"))
    page = opened(f"{empty_server}/import", scripts=scripts)
    page.get_by_label("Or choose a file").set_input_files(tmp_path / "book.csv")
    page.get_by_role("button", name="Look at").click()
    # A wrong guess is put right by hand: what stands under Length was the length quoted.
    page.get_by_label("Stations of the reading columns are in").select_option("in")
    page.get_by_label("What Length is").select_option(label="Quoted length")
    page.get_by_role("button", name="Check the rows").click()
    with page.expect_download() as waited:
        page.get_by_role("link", name="Download the 1 refused row").click()
    assert waited.value.suggested_filename == "book.rejected.csv"
    left = Path(waited.value.path()).read_text("utf-8-sig")
    assert left.splitlines()[0].startswith("Why rejected,Whip")
    page.get_by_role("button", name="Import the 1 sound rows, leave 1 out").click()
    assert "0 new, 0 changed, 1 there already, 1 refused" in page.inner_text("main")
    told = page.request.get(f"{empty_server}/export/records.jsonl").text()
    assert '"quoted_length":"6 ft"' in told
    assert "B2" not in told
    # The download, mended, is imported without a question: what was said is remembered.
    (tmp_path / "mended.csv").write_text(left.replace(",1x6,", ",16.1,"))
    page.goto(f"{empty_server}/import")
    page.get_by_label("Or choose a file").set_input_files(tmp_path / "mended.csv")
    page.get_by_role("button", name="Look at").click()
    page.get_by_role("button", name="Import 1 row").click()
    assert '"B2"' in page.request.get(f"{empty_server}/export/records.jsonl").text()
