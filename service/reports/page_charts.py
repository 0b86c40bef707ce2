"""The parts of a chart on a page: SVG that takes its colours from the page around it, by class.

One unit is a pixel on a narrow screen, where a chart is as wide as the text; elsewhere it grows with it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10
from typing import Final

from plaitlog.service.reports.svg import element, line, text, title

WIDTH: Final = 360.0
LETTER: Final = 12.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 10.0, 14.0, 40.0


@dataclass(frozen=True, slots=True)
class Axis:
    """Where a value lies on paper, and the values that are marked."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def ticks(self, about: int = 5) -> list[float]:
        step = _step((self.high - self.low) / about)
        first, last = ceil(self.low / step - 1e-9), floor(self.high / step + 1e-9)
        return [k * step for k in range(first, last + 1)]


def _step(rough: float) -> float:
    """The round step (1, 2 or 5 times a power of ten) next above a rough one."""
    power = 10.0 ** floor(log10(rough))
    return next(k * power for k in (1, 2, 5, 10) if k * power >= rough * (1 - 1e-9))


def rule(x1: float, y1: float, x2: float, y2: float, kind: str) -> str:
    """A thin straight stroke."""
    return line(x1, y1, x2, y2, stroke_width=1, class_=kind)


def chart(name: str, height: float, *content: str) -> str:
    """The whole picture, named for those who hear it read."""
    return element(
        "svg",
        title(name),
        *content,
        viewBox=f"0 0 {WIDTH:g} {height:g}",
        role="img",
        class_="chart",
        aria_label=name,
    )


def words_at(x: float, y: float, words: str, kind: str, **more: str | float) -> str:
    """A line of text: a "label", or "small" beside a scale."""
    return text(x, y, words, LETTER if kind == "label" else 11.0, class_=kind, **more)


def dot(x: float, y: float, inside: bool, radius: float = 2.6) -> str:
    """A point, filled where it lies inside of what was expected, else a ring."""
    return element("circle", cx=x, cy=y, r=radius, class_="in" if inside else "out")


def grid(across: Axis, up: Axis, below: str, beside: str) -> Iterator[str]:
    """Both scales with their lines and names."""
    for tick in up.ticks():
        y = up.at(tick)
        yield rule(across.start, y, across.end, y, "grid")
        yield words_at(across.start - 5, y + 4, f"{tick:g}", "small", text_anchor="end")
    yield from bottom_axis(across, up.start, below)
    middle = (up.start + up.end) / 2
    yield words_at(
        0, 0, beside, "label", text_anchor="middle", transform=f"translate(12 {middle:g}) rotate(-90)"
    )


def bottom_axis(across: Axis, y: float, words: str) -> Iterator[str]:
    """The scale below a picture."""
    yield rule(across.start, y, across.end, y, "axis")
    for tick in across.ticks():
        x = across.at(tick)
        yield rule(x, y, x, y + 4, "axis")
        yield words_at(x, y + 15, f"{tick:g}", "small", text_anchor="middle")
    yield words_at((across.start + across.end) / 2, y + 31, words, "label", text_anchor="middle")


def spread_of(values: Sequence[float]) -> tuple[float, float]:
    """From the least value to the greatest, with a little room."""
    low, high = min(values), max(values)
    room = 0.04 * (high - low) or 0.05 * abs(high) or 1.0
    return low - room, high + room
