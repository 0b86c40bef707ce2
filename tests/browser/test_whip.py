"""One whip as a person meets it: the stack under the pointer, photos, an edit and its undo."""

import re
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.browser.conftest import Opened
from tests.usecases.pictures_taken import from_a_telephone

WHIP = "/whips/2024-005"


def here(page: Page) -> dict[str, str]:
    """What the panel beside the drawing says, by name; the station under "at"."""
    names = page.locator("#here dt").all_text_contents()
    said = page.locator("#here dd").all_text_contents()
    return {"at": page.locator("#here-at").inner_text(), **dict(zip(names, said, strict=True))}


def test_the_stack_under_the_pointer_is_that_of_the_table(demo_server: str, opened: Opened) -> None:
    page = opened(demo_server + WHIP)
    # What takes longer has come by itself.
    expect(page.locator("#more h2")).to_have_count(3)
    drawing = page.locator("svg.whip-drawing")
    box = drawing.bounding_box()
    assert box is not None
    drawing.hover(position={"x": box["width"] * 0.6, "y": box["height"] * 0.7})
    told = here(page)
    row = page.locator(".stations tr.now")
    page.locator(".stations summary").click()
    cells = row.locator("td").all_inner_texts()
    assert told["predicted"].split(", 90 %: ")[0] in cells
    assert told["overlay"].split(" of ")[0] in cells
    assert re.fullmatch(r"At [\d /]+ in", told["at"])
    # From the drawing the arrow keys go on; the slider says all of it to those who hear it read.
    drawing.click(position={"x": box["width"] * 0.6, "y": box["height"] * 0.7})
    page.keyboard.press("ArrowRight")
    further = here(page)
    assert further["at"] != told["at"]
    said = page.locator("#station").get_attribute("aria-valuetext") or ""
    assert further["overlay"] in said
    for _ in range(12):
        page.keyboard.press("PageUp")
    assert page.locator(".stations tr.now").count() == 1


def test_without_scripts_the_table_says_it_and_a_link_leads_to_what_a_fact_would_buy(
    demo_server: str, opened: Opened
) -> None:
    page = opened(demo_server + WHIP, scripts=False, width=390)
    expect(page.locator(".here")).to_be_hidden()
    page.locator(".stations summary").click()
    expect(page.locator(".stations tbody tr").first).to_be_visible()
    page.get_by_role("link", name="What one more fact would buy").click()
    expect(page.locator("#more h2")).to_have_count(3)


def test_photos_are_added_and_taken_back_with_scripts_and_without(
    own_demo: str, opened: Opened, tmp_path: Path
) -> None:
    for name, orientation in (("a.jpg", 1), ("b.jpg", 6)):
        (tmp_path / name).write_bytes(from_a_telephone(orientation))
    for scripts in (True, False):
        page = opened(own_demo + WHIP, width=390, scripts=scripts)
        page.get_by_label("Add photos").set_input_files([tmp_path / "a.jpg", tmp_path / "b.jpg"])
        page.locator("#photos").get_by_label("Caption").last.fill("the tip")
        page.get_by_role("button", name="Add", exact=True).click()
        expect(page.get_by_role("img", name="the tip")).to_have_count(2)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        page.locator(".banner").get_by_role("button", name="Undo").click()
        expect(page.get_by_role("img", name="the tip")).to_have_count(0)


def test_an_edit_is_read_back_in_words_kept_and_undone(own_demo: str, opened: Opened) -> None:
    page = opened(own_demo + WHIP)
    page.get_by_role("link", name="Edit", exact=True).click()
    line = page.get_by_label("Layer", exact=True).first
    before = line.input_value()
    line.fill("core 5A; 12: -1 each 6 to 2; 40: end")
    expect(page.locator("#echo li").first).to_contain_text("5 strands")
    page.get_by_role("button", name="Keep layers").click()
    expect(page.get_by_role("cell", name="5A; 12: -1 each 6 to 2")).to_be_visible()
    page.locator(".banner").get_by_role("button", name="Undo").click()
    expect(page.get_by_role("cell", name="5A; 12: -1 each 6 to 2")).to_have_count(0)
    page.get_by_role("link", name="Edit", exact=True).click()
    expect(page.get_by_label("Layer", exact=True).first).to_have_value(before)
