"""Backed up, changed, restored: everything as before, and back again; with and without scripts."""

import pytest

from tests.browser.axe import serious_findings
from tests.browser.conftest import Opened


@pytest.mark.parametrize("scripts", [True, False])
def test_backup_change_restore(own_demo: str, opened: Opened, scripts: bool) -> None:
    page = opened(f"{own_demo}/backups", scripts=scripts, width=390 if scripts else 1280)

    def records() -> str:
        return page.request.get(f"{own_demo}/export/records.jsonl").text()

    before = records()
    page.get_by_role("button", name="Make a backup now").click()
    assert "66 whips" in page.get_by_role("status").inner_text()
    page.goto(f"{own_demo}/import")
    page.get_by_label("Paste cells").fill("Label\tMaker\nlater\tOrrin\n")
    page.get_by_role("button", name="Look at it").click()
    page.get_by_role("button", name="Import 1 row").click()
    changed = records()
    assert changed != before
    page.goto(f"{own_demo}/backups")
    page.get_by_role("link", name="Restore that of").click()
    assert page.get_by_role("row", name="Whips").inner_text().split() == ["Whips", "66", "67"]
    if scripts:
        assert serious_findings(page) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.get_by_label("Put the records of this backup in the place of those that are here").check()
    page.get_by_role("button", name="Restore", exact=True).click()
    assert records() == before
    page.get_by_role("link", name="Bring it back").click()
    page.get_by_label("Put the records of this backup in the place of those that are here").check()
    page.get_by_role("button", name="Restore", exact=True).click()
    assert records() == changed
