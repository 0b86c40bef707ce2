"""Predicting while one types, and the same without scripts."""

import re

from playwright.sync_api import Page, expect

from tests.browser.conftest import Opened

STACK = "stack=core+6A%3B+overlay+16A&A=Ridge+4+mm&maker=Orrin"


def size(page: Page) -> float:
    return float(page.locator("#answer .size b").inner_text())


def test_the_diameter_changes_at_once_with_layers_and_line(demo_server: str, opened: Opened) -> None:
    page = opened(f"{demo_server}/predict?{STACK}")
    thick = page.locator("#answer .size b").inner_text()
    page.get_by_role("group", name="Layer 2").get_by_label("Strands", exact=True).fill("12")
    expect(page.locator("#answer .size b")).not_to_have_text(thick)
    assert size(page) < float(thick)
    expect(page.get_by_label("Layers", exact=True)).to_have_value("core 6A; overlay 12A")
    expect(page).to_have_url(re.compile(r"stack=core\+6A%3B\+overlay\+12A"))

    # Half typed it says what is missing, keeps the focus, and nothing else moves.
    strands = page.get_by_role("group", name="Layer 1").get_by_label("Strands", exact=True)
    strands.fill("")
    expect(page.get_by_role("group", name="Layer 1")).to_contain_text("strands or a size are missing")
    expect(strands).to_be_focused()
    strands.fill("6")
    expect(page.get_by_role("group", name="Layer 1")).not_to_contain_text("missing")

    # A layer more, by a button; then a whole stack pasted into the line.
    page.get_by_role("button", name="Add a layer outside").click()
    expect(page.get_by_role("group", name="Layer 3").get_by_label("What")).to_be_focused()
    page.get_by_role("button", name="Move layer 3 inwards").click()
    expect(page.get_by_role("button", name="Move layer 2 inwards")).to_be_focused()
    page.get_by_role("button", name="Remove layer 2").click()
    page.get_by_label("Layers", exact=True).fill("core 4A; belly 8A; overlay 12A")
    expect(page.get_by_role("group", name="Layer 2").get_by_label("What")).to_have_value("belly")
    expect(page.locator("#answer tbody tr")).to_have_count(3)

    # Then the layers count again.
    page.get_by_role("group", name="Layer 3").get_by_label("Strands", exact=True).fill("16")
    expect(page.get_by_label("Layers", exact=True)).to_have_value("core 4A; belly 8A; overlay 16A")

    page.get_by_label("For a diameter of").fill("14 mm")
    expect(page.locator("#counts tbody tr")).to_have_count(7)
    kept = page.url
    told = page.locator("#answer .size").inner_text()
    page.goto(kept)
    expect(page.locator("#answer .size")).to_have_text(told)
    expect(page.locator("#counts tbody tr")).to_have_count(7)


def test_it_works_without_scripts(demo_server: str, opened: Opened) -> None:
    page = opened(f"{demo_server}/predict?{STACK}", scripts=False, width=390)
    thick = size(page)
    strands = page.get_by_role("group", name="Layer 2").get_by_label("Strands", exact=True)
    strands.fill("10")
    strands.press("Enter")
    expect(page).to_have_url(re.compile(r"overlay\+10A"))
    assert size(page) < thick
    page.get_by_role("button", name="Add a layer outside").click()
    expect(page.get_by_role("group", name="Layer 3")).to_contain_text("the strands are missing")
    page.get_by_label("For a diameter of").fill("12")
    page.get_by_role("button", name="Remove layer 3").click()
    expect(page.locator("#counts tbody tr")).to_have_count(7)
