"""Every page, narrow and wide, light and dark: nothing serious from axe-core, nothing to scroll sideways."""

import pytest

from tests.browser.axe import serious_findings
from tests.browser.conftest import HEIGHT, WIDTHS, Opened

PAGES = (
    "/",
    "/whips?text=2025",
    "/whips?text=nothing+like+it",
    "/whips/2024-005",
    "/whips/2024-005?more=yes&instead=Heath+3.5+mm&other=Ridge+4+mm",
    "/edit/2024-005",
    "/record",
    "/record?old=yes",
    "/record?like=2024-005",
    "/workshop",
    "/makers",
    "/makers/Orrin",
    "/changes",
    "/changes/1",
    "/settings",
    "/fit",
    "/fit/gaps",
    "/measure/2025-B1",
    "/predict",
    "/cords",
    "/cords/Ridge%204%20mm",
    "/new-cord",
    "/new-cord?touching=0.16&weighed_length=10&grams=64",
    "/advice/Holm%203%20mm",
    "/plan?pattern=stock+whip",
    "/plan?like=2022-008",
    "/rate/2022-002",
    "/handling?quality=volley",
    "/handling?quality=none+such",
    "/import",
    "/export",
    "/backups",
)
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
