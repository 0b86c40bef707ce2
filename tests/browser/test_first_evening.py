"""From an empty folder to an answer about handling by the browser alone, on a narrow and on a wide screen."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import WIDTHS, Opened

SCORES = {"ease": "7", "volley": "6", "accuracy": "x", "roll_out": "7", "overall": "7"}
NEW_CORD = {"weighed_length": "10", "grams": "51", "touching": "3,1", "pressed": "1.8", "ten_strands": "31"}


def fill(page: Page, **texts: str) -> None:
    """Type into fields by name; what the answer to one brings up is waited for by the next."""
    for name, text in texts.items():
        page.locator(f"[name='{name}']").fill(text)


def record_a_whip(page: Page) -> None:
    page.get_by_role("link", name="Record a whip").first.click()
    fill(page, label="2026-001", maker="Orrin", thong_length="60")
    fill(page, **{"layer.1": "6A; 12: -1 each 6 to 0 cut", "cord.A": "Ridge 4 mm"})
    fill(page, **{"cord.A.material": "nylon"})
    page.locator("[name='cord.A.construction']").select_option("cored")
    fill(page, **{"layer.2": "overlay 16A u2o2u2o2; 24: -2 each 4 to 8 tuck 3; p"})
    page.locator("[name='complete']").select_option("yes")
    fill(page, **{"readings.1": "2 each 6: 18.2/18.0 17.4 16.8 16.0 14.9 14.0 12.8 11.1 9.9 8.6"})
    page.locator("[name='rate']").select_option("yes")
    fill(page, **{f"rating.{quality}": score for quality, score in SCORES.items()})
    page.get_by_role("button", name="Keep the whip").click()
    expect(page.get_by_role("heading", name="2026-001", exact=True)).to_be_visible()
    expect(page.get_by_role("button", name="Undo")).to_be_visible()


def fit(page: Page) -> None:
    page.get_by_role("link", name="Fit", exact=True).click()
    page.get_by_role("button", name="Fit now quickly").click()
    page.wait_for_url(re.compile("/fits/1"), timeout=60_000)
    expect(page.get_by_text("of 1 whip in 1 cord").first).to_be_visible()


def predict_a_new_cord(page: Page) -> None:
    page.get_by_role("link", name="Cords", exact=True).click()
    page.get_by_role("link", name="Predict a new cord").first.click()
    fill(page, **NEW_CORD, name="Holm 3 mm", material="polyester")
    expect(page.get_by_text("Nine readings in ten should lie between")).to_be_visible()
    page.get_by_role("button", name="Keep this cord").click()
    expect(page.get_by_role("heading", name="Holm 3 mm", exact=True)).to_be_visible()


def print_a_plan(page: Page) -> bytes:
    page.get_by_role("link", name="Plan", exact=True).click()
    fill(page, label="2026-002", thong_length="5 ft", maker="Orrin", thick_end="17", point="7")
    fill(page, l1_cord="Ridge 4 mm", l2_cord="Holm 3 mm")
    page.get_by_role("button", name="Plan it", exact=True).click()
    page.get_by_role("link", name="Bench sheet").first.click(timeout=30_000)
    printed: bytes = page.request.get(
        page.get_by_role("link", name=re.compile("PDF")).first.evaluate("a => a.href")
    ).body()
    return printed


@pytest.mark.parametrize("width", WIDTHS)
def test_from_nothing_to_what_handles_well(empty_server: str, opened: Opened, width: int) -> None:
    page = opened(empty_server, width=width)
    record_a_whip(page)
    fit(page)
    predict_a_new_cord(page)
    assert print_a_plan(page).startswith(b"%PDF")
    page.get_by_role("link", name="Handling", exact=True).click()
    expect(page.get_by_text("Only 1 whip is rated for overall")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
