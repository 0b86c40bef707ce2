"""A plan as a person makes it: from an empty form to a printed sheet and a whip on the bench, then again from
what was measured; with scripts and without."""

import io

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.browser.axe import serious_findings
from tests.browser.conftest import Opened


def fill(page: Page, **typed: str) -> None:
    for name, text in typed.items():
        page.locator(f"#{name}").fill(text)


def printed(page: Page) -> list[str]:
    """The text of each page of paper that the browser itself prints."""
    page.wait_for_load_state()
    made = page.pdf(prefer_css_page_size=True)
    return [one.extract_text() for one in PdfReader(io.BytesIO(made)).pages]


@pytest.mark.parametrize("scripts", [True, False])
def test_from_an_empty_form_to_a_printed_sheet_and_a_whip_on_the_bench(
    own_demo: str, opened: Opened, scripts: bool
) -> None:
    page = opened(f"{own_demo}/plan", width=1280 if scripts else 390, scripts=scripts)
    fill(page, label="Yard whip", maker="Orrin", thong_length="900 mm", handle_length="0", thick_end="12")
    fill(page, point="6", l1_cord="Ridge 4 mm", l2_cord="Beck 2.5 mm")
    page.get_by_role("button", name="One layer more").click()
    expect(page.get_by_role("group", name="Layer 2").get_by_label("Layer 2", exact=True)).to_have_value(
        "belly"
    )
    fill(page, l1_start="3", l3_start="16")
    page.locator("#l2_role").select_option("")
    page.get_by_role("button", name="Plan it", exact=True).last.click()
    page.get_by_role("heading", name="Plan 1: as asked for").wait_for()
    expect(page.locator("#l3_cord")).to_have_value("Beck 2.5 mm")
    fill(page, point="5.8")
    page.get_by_role("button", name="with other good plans beside it").click()
    page.get_by_role("heading", name="Plan 2").wait_for()
    assert page.get_by_role("row").filter(has_text="as asked for").count() == 2
    if scripts:
        assert serious_findings(page) == []
    page.locator("#plan-1").get_by_role("link", name="Bench sheet").click()
    page.get_by_role("heading", name="Bench sheet Yard whip").wait_for()
    pdf = page.request.get(f"{page.url}?paper=a4&file=pdf").body()
    sheet = [one.extract_text() for one in PdfReader(io.BytesIO(pdf)).pages]
    assert len(sheet) == page.locator(".paper").count()
    assert "Take care" in sheet[0]
    if scripts:
        by_browser = printed(page)
        assert len(by_browser) == len(sheet)
        assert "Take care" in by_browser[0]
    page.get_by_role("link", name="The plan").click()
    page.locator("#plan-1").get_by_label("Label of the new whip").fill("Y-1")
    page.locator("#plan-1").get_by_role("button", name="Start building").click()
    page.get_by_role("heading", name="Bench sheet Y-1").wait_for()
    page.get_by_role("link", name="Measure while building").wait_for()
    if scripts:
        plan_again(own_demo, page)


def plan_again(address: str, page: Page) -> None:
    """From the sheet of a whip that was begun: measured, planned again, kept with a new sheet."""
    for at, size in ((100, 13.0), (250, 12.4)):
        record = {"whip": "Y-1", "at_mm": at, "diameter_mm": size}
        assert page.request.post(f"{address}/api/v1/readings", data=record).status == 201
    page.get_by_role("link", name="Plan again what lies ahead").click()
    page.get_by_text("the overlay (layer 2) is plaited to").wait_for()
    page.get_by_role("button", name="Plan again what lies ahead").click()
    page.get_by_role("heading", name="What changes").wait_for()
    changes = page.locator("main li", has_text="overlay (layer 2): down to").all_inner_texts()
    assert changes
    assert serious_findings(page) == []
    page.get_by_role("button", name="Keep it with the whip").click()
    page.get_by_text("whip Y-1: layers changed.").wait_for()
    assert "On the bench: layer 2 (overlay)" in page.locator(".paper").first.inner_text()


def test_points_of_the_target_are_dragged_and_nudged_and_the_numbers_follow(
    demo_server: str, opened: Opened
) -> None:
    page = opened(f"{demo_server}/plan", width=390)
    fill(page, thong_length="66", thick_end="14", point="6", parallel_point="7")
    point = page.get_by_role("slider", name="point")
    point.focus()
    page.keyboard.press("ArrowUp")
    expect(page.locator("#point")).to_have_value("6.1 mm")
    page.get_by_text("6.1 mm at the point").first.wait_for()
    expect(point).to_be_focused()  # the picture was drawn anew under it
    page.keyboard.press("Shift+ArrowLeft")
    expect(page.locator("#parallel_point")).to_have_value("9.5 in")
    expect(page.locator("#point")).to_have_value("6.1 mm")
    page.get_by_text("none behind 56 1/2 in").first.wait_for()
    thick = page.get_by_role("slider", name="thick end").locator(".knob")
    thick.scroll_into_view_if_needed()
    box = thick.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 40, y + 20, steps=4)
    page.mouse.up()
    size = page.locator("#thick_end").input_value().removesuffix(" mm")
    held = page.locator("#parallel_thick").input_value().removesuffix(" in")
    assert 10 < float(size) < 14
    assert 5 < float(held) < 20
    page.get_by_text(f"{size} mm at the thick end").first.wait_for()
    # It is kept as it was typed: a reload loses nothing.
    page.reload()
    expect(page.locator("#parallel_thick")).to_have_value(f"{held} in")
    page.locator("#way").select_option("stations")
    expect(page.locator("#thick_end")).to_be_hidden()
    fill(page, at1="0", size1="14", at2="66", size2="6")
    page.get_by_role("slider", name="place 2").focus()
    page.keyboard.press("ArrowDown")
    expect(page.locator("#size2")).to_have_value("5.9 mm")
