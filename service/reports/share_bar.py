"""How much of a whole something takes, as a bar in the colours of the page."""

from typing import Final

from plaitlog.service.reports.svg import element, rect

LENGTH: Final = 100.0
HEIGHT: Final = 12.0


def share_bar(before: float, share: float) -> str:
    """A bar of ``share`` (0 to 1) that begins where those before it end; the words beside it say how much."""
    start = min(max(before, 0.0), 1.0) * LENGTH
    length = min(max(share, 0.0), 1.0) * LENGTH
    return element(
        "svg",
        rect(0, 0, LENGTH, HEIGHT, class_="chance"),
        rect(start, 0, min(length, LENGTH - start), HEIGHT, class_="bar"),
        viewBox=f"0 0 {LENGTH:g} {HEIGHT:g}",
        preserveAspectRatio="none",
        class_="chart share",
        aria_hidden="true",
    )
