"""Every page, narrow and wide, light and dark: nothing serious from axe-core, nothing to scroll sideways."""

import pytest

from tests.browser.axe import serious_findings
from tests.browser.conftest import HEIGHT, WIDTHS, Opened
from tests.pages.addresses import PAGES

COLOURS = ("color-contrast", "link-in-text-block")


@pytest.mark.parametrize("address", PAGES)
def test_everybody_can_use_it(demo_server: str, opened: Opened, address: str) -> None:
    page = opened(demo_server + address)
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": HEIGHT})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            # The schemes differ in nothing but colours.
            assert serious_findings(page, () if scheme == "light" else COLOURS) == [], (width, scheme)
