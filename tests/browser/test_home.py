"""From the first page on, and through lists and history, as a person goes: with scripts and without."""

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


def test_a_whip_is_found_sorted_and_shown_in_other_columns(demo_server: str, opened: Opened) -> None:
    page = opened(f"{demo_server}/whips", scripts=False)
    page.get_by_label("Words in label").fill("nothing like it")
    page.get_by_label("Words in label").press("Enter")
    page.get_by_role("link", name="without text nothing like it").click()
    page.get_by_label("Type", exact=True).select_option("cow whip")
    page.get_by_label("Maker", exact=True).select_option("Tamsin")
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


def test_what_is_done_and_undone_along_a_visit(own_demo: str, opened: Opened) -> None:
    page = opened(f"{own_demo}/workshop", width=390, dark=True)
    # A maker, by keyboard alone.
    page.get_by_role("link", name="Makers").press("Enter")
    page.get_by_label("Name").fill("Wilmer")
    page.keyboard.press("Enter")
    page.get_by_text("maker Wilmer added").wait_for()
    page.get_by_role("button", name="Undo").press("Enter")
    page.get_by_text("maker Wilmer removed").wait_for()
    assert page.get_by_role("link", name="Wilmer").count() == 0
    page.goto(f"{own_demo}/changes")
    page.get_by_role("button", name="Redo").first.press("Enter")
    page.get_by_role("status").wait_for()
    page.goto(f"{own_demo}/makers")
    assert page.get_by_role("link", name="Wilmer").count() == 1
    # Units, once chosen, hold everywhere.
    page = opened(f"{own_demo}/settings", scripts=False)
    page.get_by_label("Lengths and places").select_option("mm")
    page.get_by_label("Decimal mark").select_option("comma")
    page.get_by_role("button", name="Keep").click()
    assert page.get_by_role("status").inner_text() == "Kept for next time."
    page.goto(f"{own_demo}/whips?text=2025-008")
    row = page.locator("tbody tr").inner_text().replace("\u00a0", " ")
    assert "1524 mm" in row
    assert "14,7" in row
    # The demo is taken out with one press, and comes back with another.
    page.goto(own_demo)
    page.get_by_role("button", name="Take the demo out").click()
    assert page.get_by_role("heading", name="On the bench").count() == 1  # a maker of one's own is left
    assert page.get_by_text("No whip yet.").count() == 1
    page.get_by_role("button", name="Undo").click()
    assert page.get_by_role("link", name="2025-B1").count() > 0
