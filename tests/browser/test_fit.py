"""A fit as a person makes it: begun, left, come back to; another one cancelled; the older one put back."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser.conftest import Opened, Server
from tests.pages.pulled_workshop import workshop


@pytest.fixture
def small_server(tmp_path: Path) -> Iterator[str]:
    """The address of a server on a few whips, one reading of which does not fit, and no fit."""
    server = Server(workshop(tmp_path, slip=True), tmp_path)
    yield server.address
    server.stop()


def test_made_left_come_back_to_cancelled_and_put_back(small_server: str, opened: Opened) -> None:
    page = opened(f"{small_server}/fit", width=390)
    page.get_by_text("No fit has been made yet").wait_for()
    page.get_by_role("button", name="Fit now with evidence").click()
    page.get_by_role("link", name="Whips", exact=True).click()
    page.get_by_role("link", name="Fit", exact=True).click()
    page.get_by_role("heading", name="Fit 1, in force").wait_for()
    page.get_by_role("button", name="Fit again quickly").click()
    page.wait_for_url("**/fits/2")
    page.get_by_role("heading", name="Fit 2, in force").wait_for()
    page.get_by_role("button", name="Fit again with evidence").click()
    page.get_by_role("button", name="Cancel").click()
    page.get_by_text("cancelled; nothing of it was kept").first.wait_for()
    page.get_by_role("link", name="Back to where it was begun").click()
    assert page.get_by_role("row", name="Fit 3").count() == 0
    page.get_by_role("button", name="Put fit 1 in force").click()
    page.get_by_role("heading", name="Fit 1, in force").wait_for()
    page.get_by_role("button", name="What changed?").click()
    page.get_by_role("heading", name="From fit 1 to fit 2").wait_for()


def test_without_scripts_one_is_led_to_the_fit_all_the_same(small_server: str, opened: Opened) -> None:
    page = opened(f"{small_server}/fit", scripts=False)
    page.get_by_role("button", name="Fit now quickly").click()
    page.wait_for_url("**/fits/1")
    page.get_by_role("button", name="Leave it").click()
    page.get_by_text("1 decided on").click()
    page.get_by_text("left as it is").wait_for()
