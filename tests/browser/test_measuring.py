"""Measuring at the bench as calipers type it: digits and Enter, with scripts and without."""

import json
from collections.abc import Iterator
from typing import Any
from urllib.request import urlopen

import pytest
from playwright.sync_api import Page, expect

from tests.browser.axe import serious_findings
from tests.browser.conftest import HEIGHT, Opened, Server
from tests.pages.workshops import demo_copy

ON_BENCH, STOCK = "2025-B1", "2024-013"


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a server on a demo of its own; each test measures another whip."""
    folder = tmp_path_factory.mktemp("bench")
    server = Server(demo_copy(folder), folder)
    yield server.address
    server.stop()


def stored(address: str, label: str) -> list[float]:
    with urlopen(f"{address}/api/v1/readings?whip={label}&limit=200") as answer:
        found: Any = json.load(answer)
    return [item["record"]["diameter_mm"] for item in found["items"]]


def expected(page: Page) -> list[float]:
    """What is expected at every station, in the order in which they are measured."""
    return [float(text) for text in page.locator("#stations tbody tr td:nth-of-type(2)").all_inner_texts()]


def send(page: Page, size: float | str) -> None:
    """As calipers do: the digits one by one, then Enter; they wait for nothing."""
    page.keyboard.type(size if isinstance(size, str) else f"{size:.2f}")
    page.keyboard.press("Enter")


def send_when_ready(page: Page, size: float | str) -> None:
    """The same once the page that was asked for is there, as a person looks before measuring."""
    expect(page.locator("#size")).to_be_focused()
    send(page, size)


def test_a_whole_run_by_keyboard_alone(bench: str, opened: Opened) -> None:
    before = stored(bench, ON_BENCH)
    page = opened(f"{bench}/measure/{ON_BENCH}")
    page.get_by_label("Measure every").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_label("Reading, mm")).to_be_focused()
    sizes = [1.02 * size for size in expected(page)]
    assert len(sizes) == 6

    # Two readings sent one right after the other are those of two stations.
    send(page, sizes[0])
    send(page, sizes[1])
    expect(page.locator("#due .at")).to_have_text(
        page.locator("#stations tbody th").nth(2).inner_text().strip(" *")
    )

    # Outside of the 99 % interval: marked, not asked about; a further Enter of the calipers answers nothing.
    send(page, 0.7 * sizes[2])
    expect(page.locator("#told")).to_contain_text("lies outside of the 99 % interval")
    page.keyboard.press("Enter")
    expect(page.locator("#size")).to_be_focused()
    expect(page.locator("#stations tr").nth(3)).to_contain_text("outside 99 %")

    # One key takes it back, and it is measured again.
    page.keyboard.press("Escape")
    expect(page.locator("#told")).to_contain_text("Taken back")
    expect(page.locator("#stations tr.due th")).to_contain_text(page.locator("#due .at").inner_text())
    send(page, sizes[2])
    expect(page.locator("#stations tr.done")).to_have_count(3)

    # What is no size is told, stays in the field, and the next reading takes its place.
    send(page, "0")
    expect(page.locator("#told")).to_contain_text("'0' is not a diameter")
    expect(page.locator("#size")).to_have_value("0")
    send(page, sizes[3])
    expect(page.locator("#stations tr.done")).to_have_count(4)

    # A button that was touched leaves the field where the calipers type.
    page.get_by_role("button", name="Pass over").click()
    expect(page.locator("#told")).to_contain_text("passed over")
    page.get_by_role("button", name="Take back").focus()
    send(page, sizes[5])
    expect(page.get_by_role("heading", name="What it says")).to_be_visible()
    expect(page.locator("#size")).to_be_hidden()
    expect(page.locator("#due")).to_contain_text("thicker than expected on the whole")
    kept = [float(f"{size:.2f}") for k, size in enumerate(sizes) if k != 4]
    assert stored(bench, ON_BENCH) == [*before, *kept]


def test_from_the_point_and_without_scripts(bench: str, opened: Opened) -> None:
    before = stored(bench, STOCK)
    page = opened(f"{bench}/measure/{STOCK}", scripts=False, width=390)
    page.get_by_label("Measure every").fill("16")
    page.get_by_label("the point").check()
    page.get_by_label("two, at right angles").check()
    page.get_by_role("button", name="Begin measuring").click()
    expect(page.locator("#due")).to_contain_text("from the point")
    expect(page.locator("#due")).to_contain_text("first of two")
    sizes = expected(page)
    send_when_ready(page, sizes[0])
    expect(page.locator("#due")).to_contain_text("second, at right angles")
    send_when_ready(page, sizes[0])
    expect(page.locator("#due")).to_contain_text("first of two")
    send_when_ready(page, 2 * sizes[1])
    expect(page.locator("#told")).to_contain_text("lies outside of the 99 % interval")
    page.get_by_role("button", name="Take back").click()
    expect(page.locator("#told")).to_contain_text("Taken back")
    page.get_by_role("button", name="End here").click()
    expect(page.get_by_role("heading", name="What it says")).to_be_visible()
    assert stored(bench, STOCK) == [*before, *[float(f"{sizes[0]:.2f}")] * 2]


def test_everybody_can_read_a_run_with_a_reading_that_stands_out(bench: str, opened: Opened) -> None:
    page = opened(f"{bench}/measure/2025-002?anew=yes")
    page.get_by_label("Measure every").fill("1")
    page.get_by_role("button", name="Begin measuring").click()
    send_when_ready(page, 1.5 * expected(page)[0])
    expect(page.locator("#told")).to_contain_text("lies outside of the 99 % interval")
    for width, scheme in ((390, "dark"), (1280, "light")):
        page.set_viewport_size({"width": width, "height": HEIGHT})
        page.emulate_media(color_scheme=scheme)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert serious_findings(page) == []


def test_what_is_refused_without_scripts_stays_in_the_field(bench: str, opened: Opened) -> None:
    page = opened(f"{bench}/measure/2025-001?anew=yes", scripts=False)
    page.get_by_role("button", name="Begin measuring").click()
    send_when_ready(page, "abc")
    expect(page.locator("#told")).to_contain_text("'abc' is not a diameter")
    expect(page.locator("#size")).to_have_value("abc")
    expect(page.locator("#size")).to_be_focused()
