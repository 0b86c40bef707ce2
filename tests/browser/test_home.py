"""From the first page on, and through lists and history, as a person goes: with scripts and without."""

import pytest

from tests.browser.axe import serious_findings
from tests.browser.conftest import Opened


def test_three_ways_on_and_only_three(empty_server: str, opened: Opened) -> None:
    page = opened(empty_server, width=390)
    ways = page.locator(".ways > li")
    assert ways.count() == 3
    assert serious_findings(page) == []
    page.get_by_role("link", name="Record a whip", exact=True).click()
    assert page.url.startswith(f"{empty_server}/record")
    page.go_back()
    page.get_by_role("button", name="Look at the demo").click()
    page.wait_for_url("**/jobs/*")
    page.get_by_role("button", name="Cancel").click()
    page.goto(empty_server)
    assert ways.count() == 3  # nothing of it was kept


@pytest.mark.parametrize("scripts", [True, False])
def test_a_whip_is_found_sorted_and_shown_in_other_columns(
    demo_server: str, opened: Opened, scripts: bool
) -> None:
    page = opened(f"{demo_server}/whips", scripts=scripts)
    page.get_by_label("Words in label").fill("cow tamsin")
    page.get_by_label("Words in label").press("Enter")
    assert page.get_by_text("None of the").count() == 1  # "cow" is a type, and types are chosen
    page.get_by_role("link", name="without text cow tamsin").click()
    page.get_by_label("Type").select_option("cow whip")
    page.get_by_label("Maker").select_option("Tamsin")
    page.get_by_role("button", name="Show", exact=True).click()
    rows = page.locator("tbody tr")
    assert 0 < rows.count() < 15
    assert set(rows.locator("td[data-name=type]").all_inner_texts()) == {"cow whip"}
    page.get_by_role("link", name="weight, g").click()
    weights = [float(text) for text in rows.locator("td[data-name='weight, g']").all_inner_texts() if text]
    assert weights == sorted(weights)
    page.get_by_text("Columns and order").click()
    for name in ("cords", "overall", "readings"):
        page.get_by_label(name, exact=True).uncheck()
    page.get_by_role("button", name="Show so", exact=True).click()
    assert page.locator("thead").get_by_text("cords").count() == 0
    rows.first.get_by_role("link").click()
    assert page.locator("h1").inner_text()
    assert "/whips/" in page.url


def test_a_maker_added_undone_and_redone_by_keyboard(own_demo: str, opened: Opened) -> None:
    page = opened(f"{own_demo}/workshop", width=390, dark=True)
    page.get_by_role("link", name="Makers").press("Enter")
    page.get_by_label("Name").fill("Wilmer")
    page.keyboard.press("Enter")
    assert page.get_by_role("status").get_by_text("maker Wilmer added").count() == 1
    page.get_by_role("button", name="Undo").press("Enter")
    page.wait_for_url("**/makers?change=*")
    assert page.get_by_role("link", name="Wilmer").count() == 0
    page.goto(f"{own_demo}/changes")
    page.get_by_role("button", name="Redo").first.press("Enter")
    page.goto(f"{own_demo}/makers")
    assert page.get_by_role("link", name="Wilmer").count() == 1


def test_the_demo_is_taken_out_with_one_press(own_demo: str, opened: Opened) -> None:
    page = opened(own_demo, scripts=False)
    page.get_by_role("button", name="Take the demo out").click()
    assert page.get_by_role("heading", name="Record a whip").count() == 1
    page.get_by_role("button", name="Undo").click()  # of the undo
    assert page.get_by_text("On the bench").count() > 0


def test_units_once_chosen_hold_everywhere(own_demo: str, opened: Opened) -> None:
    page = opened(f"{own_demo}/settings", scripts=False)
    page.get_by_label("Lengths and places").select_option("mm")
    page.get_by_label("Decimal mark").select_option("comma")
    page.get_by_role("button", name="Keep").click()
    assert page.get_by_role("status").inner_text() == "Kept for next time."
    page.goto(f"{own_demo}/whips?text=2025-008")
    row = page.locator("tbody tr").inner_text()
    assert "1524 mm" in row
    assert "14,7" in row
