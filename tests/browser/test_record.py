"""Recording a whip as a person does: with and without scripts, broken off, with the server gone."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.conftest import Opened, Server
from tests.pages.workshops import demo_copy

SCHEDULE = (
    ("layer.1", "6A; 12: -1 each 3 to 0 cut"),
    ("layer.2", "12A; 28: -2 each 4 to 6 tuck 3; 45: end"),
    ("layer.3", "8A+8B u2o2u2o2; 36: -2A -2B u3o3 tuck 3; 52: -4 u2o2 run; p"),
)
"""A whole whip: a core cut out strand by strand, a belly, an overlay in two colours."""
KEYSTROKES = 200


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a server on a demo that the tests of this module share, each with labels of its own."""
    folder = tmp_path_factory.mktemp("record")
    server = Server(demo_copy(folder), folder)
    yield server.address
    server.stop()


def box(page: Page, key: str) -> Locator:
    """The field of a question."""
    return page.locator(f'[id="{key}"]')


def test_a_whole_schedule_by_keyboard_in_under_200_keystrokes(workshop: str, opened: Opened) -> None:
    page = opened(workshop + "/record")
    page.evaluate("window.keys = 0; addEventListener('keydown', () => { window.keys += 1; }, true)")
    box(page, "layer.1").focus()
    page.evaluate("window.keys = 0")
    typed = dict(SCHEDULE)
    for key, name in (("layer.1", "cord.A"), ("layer.2", "layer.3"), ("layer.3", "cord.B")):
        if page.evaluate("document.activeElement.id") != key:
            tab_to(page, key)
        page.keyboard.type(typed[key])
        expect(box(page, name)).to_be_visible()
        if name.startswith("cord"):
            tab_to(page, name)
            cord = {"cord.A": "Ridge 4 mm", "cord.B": "Fell 3 mm"}[name]
            page.keyboard.type(cord)
            expect(page.locator("[data-look]")).to_contain_text(f"({cord})")
    tab_to(page, "complete")
    page.keyboard.press("y")
    expect(box(page, "complete")).to_have_value("yes")
    keys = page.evaluate("window.keys")
    assert keys < KEYSTROKES, keys
    for key, line in SCHEDULE:
        expect(box(page, key)).to_have_value(line)
    words = page.locator("[data-look]")
    expect(words).to_contain_text("8 strands of A (Ridge 4 mm) and 8 of B (Fell 3 mm), u2o2u2o2")


def tab_to(page: Page, key: str) -> None:
    for _ in range(8):
        if page.evaluate("document.activeElement.id") == key:
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{key} is far from {page.evaluate('document.activeElement.id')}")


def test_a_whip_is_recorded_as_one_types(workshop: str, opened: Opened) -> None:
    page = opened(workshop + "/record", width=390)
    box(page, "label").fill("N-70")
    box(page, "thong_length").fill("6'")
    for key, line in SCHEDULE:
        box(page, key).fill(line)
        if key != "layer.3":
            expect(box(page, f"layer.{int(key[-1]) + 1}")).to_be_visible()
    box(page, "cord.A").fill("Ridge 4 mm")
    box(page, "cord.B").fill("Hollow 2 mm")
    expect(box(page, "cord.B.material")).to_be_visible()  # a cord that is new is asked about right here
    box(page, "cord.B.material").fill("nylon")
    box(page, "cord.B.construction").select_option("cored")
    page.get_by_role("button", name="Take yes for Are these all the layers there are").click()
    box(page, "readings.1").fill("4: 22 4.1")
    expect(page.locator("tr.far")).to_contain_text("far off: look again")
    expect(page.locator("tr.far")).to_have_count(1)
    expect(page.get_by_role("img", name=re.compile("layers, outermost on top"))).to_be_visible()
    page.keyboard.press("Enter")  # calipers type it: nothing is kept by that
    expect(page.locator("#standing")).to_contain_text("Kept at")
    page.get_by_role("button", name="Keep the whip").click()
    page.wait_for_url("**/whips/N-70?change=*")
    expect(page.locator(".banner").get_by_role("button", name="Undo")).to_be_visible()
    expect(page.get_by_role("main")).to_contain_text("sable for")  # what a fit can use of it
    page.goto(workshop + "/record")
    assert page.get_by_role("link", name="Go on with N-70").count() == 0


def test_nothing_typed_is_lost_while_answers_come_in(workshop: str, opened: Opened) -> None:
    page = opened(workshop + "/record")
    line = "16A; 30: -2 each 4 to 8 tuck 3; p"
    box(page, "layer.1").focus()
    page.keyboard.type("overlay " + line, delay=60)  # slower than the pause after which the form is sent
    expect(box(page, "cord.A")).to_be_visible()
    assert page.evaluate("document.activeElement.id") == "layer.1"
    expect(box(page, "layer.1")).to_have_value("overlay " + line)
    box(page, "cord.A").fill("Ridge 4 mm")
    expect(page.locator("[data-look]")).to_contain_text("16 strands of A (Ridge 4 mm)")
    box(page, "layer.1").fill("overlay 16")  # the letter is gone for a moment, and with it its question
    expect(box(page, "cord.A")).to_have_count(0)
    box(page, "layer.1").fill("overlay 16A; p")
    expect(box(page, "cord.A")).to_have_value("Ridge 4 mm")


def test_a_killed_tab_is_gone_on_with(workshop: str, opened: Opened) -> None:
    page = opened(workshop + "/record")
    box(page, "label").fill("N-71")
    box(page, "notes").fill("green notebook")
    expect(page.locator("#standing")).to_contain_text("Kept at")
    context = page.context
    page.close()
    page = context.new_page()
    page.goto(workshop + "/record")
    page.get_by_role("link", name="Go on with N-71").click()
    expect(box(page, "notes")).to_have_value("green notebook")
    page.get_by_role("button", name="Keep the whip").click()
    page.wait_for_url("**/whips/N-71?change=*")


def test_what_is_typed_while_the_server_is_gone_comes_back(workshop: str, browser: Browser) -> None:
    context = browser.new_context()  # a browser says in its console that a server is gone
    page = context.new_page()
    page.goto(workshop + "/record")
    context.set_offline(True)
    box(page, "label").fill("N-72")
    box(page, "layer.1").fill("overlay 16A; p")
    expect(page.locator("#standing")).to_have_text("Not reachable: kept in this browser.")
    page.close()
    context.set_offline(False)
    page = context.new_page()
    page.goto(workshop + "/record")
    page.get_by_role("link", name="Go on with N-72").click()
    expect(box(page, "layer.1")).to_have_value("overlay 16A; p")
    expect(box(page, "cord.A")).to_be_visible()
    expect(page.locator("#standing")).to_contain_text("Brought back")
    page.goto(workshop + "/record")  # and now the server has it too
    expect(page.locator(".unfinished")).to_contain_text("N-72")
    context.close()


def test_step_by_step_while_typing(workshop: str, opened: Opened) -> None:
    page = opened(workshop + "/record")
    box(page, "how.layer.1").select_option("rows")
    box(page, "rows.layer.1.start").fill("6")
    for row, (place, count) in enumerate((("12", "5"), ("15", "4"), ("18", "3"), ("21", "0")), start=1):
        box(page, f"rows.layer.1.{row}.place").fill(place)
        box(page, f"rows.layer.1.{row}.count").fill(count)
        box(page, f"rows.layer.1.{row}.fate").select_option("cut")
        expect(box(page, f"rows.layer.1.{row + 2}.place")).to_be_visible()  # there is always room for more
    expect(page.locator('[id="layer.1-help"]')).to_contain_text("core: 6 strands; at 12 in 5")
    box(page, "how.layer.1").select_option("line")
    line = page.locator('textarea[id="layer.1"]')
    expect(line).to_have_value("core 6; 12: =5 cut; 15: =4; 18: =3; 21: end")


def test_without_scripts_the_form_goes_round(workshop: str, opened: Opened) -> None:
    page = opened(workshop + "/record", scripts=False)
    box(page, "label").fill("N-73")
    box(page, "thong_length").fill("6'")
    box(page, "layer.1").fill("core 6A; 12: -1 each 3 to 0 cut")
    box(page, "label").press("Enter")  # looks it over, and keeps no whip
    box(page, "cord.A").fill("Ridge 4 mm")
    box(page, "layer.2").fill("overlay 16B; 40: -2 each 4 to 8 tuck 3; p")
    page.get_by_role("button", name="Look it over").last.click()
    box(page, "cord.B").fill("Marsh 2 mm")
    page.get_by_role("button", name="Keep the whip").click()
    expect(page.get_by_role("alert")).to_contain_text("The whip is not kept yet")
    box(page, "cord.B.material").fill("nylon")
    box(page, "cord.B.construction").select_option("cored")
    page.get_by_role("button", name="Keep the whip").click()
    page.wait_for_url("**/whips/N-73?change=*")
    page.goto(workshop + "/record")
    assert page.get_by_role("link", name="Go on with N-73").count() == 0
