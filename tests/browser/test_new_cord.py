"""From a few measurements to a stored cord, a prediction and a test plait, with scripts and without."""

import re

from playwright.sync_api import Page, expect

from tests.browser.conftest import Opened

MEASURED = {"weighed_length": "10", "grams": "64", "touching": "4.1"}


def test_with_scripts_the_diameters_follow_the_typing_and_nothing_is_lost(
    own_demo: str, opened: Opened
) -> None:
    page = opened(own_demo + "/cords", width=390)
    page.get_by_role("link", name="Predict a new cord").click()
    expect(page.get_by_text("What measuring buys, shown on")).to_be_visible()
    expect(page.get_by_label("Length weighed")).to_be_focused()
    page.keyboard.type("10")
    page.get_by_label("It weighs (g)").fill("64")
    page.get_by_label("Calipers just touching").fill("0.16")
    use = page.get_by_role("button", name="Use 4.06 mm")
    expect(use).to_be_visible()
    use.click()
    expect(page.get_by_label("Calipers just touching")).to_have_value("4.06 mm")
    page.get_by_label("Calipers just touching").fill("4.1")
    large = page.locator("#told .large")
    expect(large).to_contain_text(re.compile(r"^1[67]\.\d mm"))
    said = page.locator("#said")
    expect(said).to_be_in_viewport()  # the figure stays in sight while one types on a narrow screen
    first = large.inner_text()
    page.get_by_label("Ten side by side").fill("44")
    expect(large).not_to_have_text(first)
    expect(page.get_by_text("(done)")).to_have_count(3)
    expect(page).to_have_url(re.compile("ten_strands=44"))
    page.reload()
    expect(page.get_by_label("Ten side by side")).to_have_value("44")
    with_width = large.inner_text()
    _kept(page, "Moor 4 mm")
    expect(page.locator(".large").first).to_have_text(with_width)


def test_without_scripts_a_button_shows_them(own_demo: str, opened: Opened) -> None:
    page = opened(own_demo + "/new-cord", scripts=False)
    for field, text in MEASURED.items():
        page.locator(f"#{field}").fill(text)
    page.get_by_role("button", name="Show the diameters").click()
    expect(page.locator("#told .large")).to_contain_text("mm")
    expect(page.locator("#grams")).to_have_value("64")
    page.get_by_role("button", name="Keep this cord").click()
    expect(page.locator("#name-help")).to_contain_text("a cord needs a name")
    expect(page.locator("#touching")).to_have_value("4.1")
    _kept(page, "Moor 4 mm")
    page.get_by_role("link", name="The diameter of a stack").click()
    expect(page.get_by_role("main")).to_contain_text("Moor 4 mm")
    page.go_back()
    page.get_by_role("link", name="A test plait that teaches most").click()
    expect(page.get_by_role("heading", name="How to make it")).to_be_visible()
    page.get_by_role("button", name="Record this test plait").click()
    expect(page.locator("[name=label]")).to_have_value(re.compile("^test plait of Moor 4 mm"))


def test_a_cord_and_its_stock_are_changed_by_keyboard_and_taken_back(own_demo: str, opened: Opened) -> None:
    page = opened(own_demo + "/cords/Ridge%204%20mm", scripts=False)
    page.get_by_text("Add a lot").focus()
    page.keyboard.press("Enter")
    page.locator("#colour-new").fill("teal")
    page.locator("#metres-new").fill("80 m")
    page.keyboard.press("Enter")
    row = page.get_by_role("row", name="teal")
    expect(row).to_contain_text("80")
    page.get_by_role("button", name="Undo").click()
    page.goto(own_demo + "/cords/Ridge%204%20mm")
    expect(row).to_have_count(0)
    page.locator("#over").fill("8")
    page.keyboard.press("Enter")
    expect(page.locator("figcaption")).to_contain_text("over 8.0 mm")


def _kept(page: Page, name: str) -> None:
    """Name the cord and the material, and keep it."""
    page.get_by_label("Material").fill("nylon")
    page.get_by_label("Name").fill(name)
    page.get_by_role("button", name="Keep this cord").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(name)
    expect(page.get_by_text("What is wanted of it?")).to_be_visible()
