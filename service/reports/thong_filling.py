"""A thong as it fills up with readings: what is expected along it, what was measured, what is due."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from plaitlog.service.reports.page_charts import WIDTH, Axis, chart, rule, words_at
from plaitlog.service.reports.svg import element, path, title

HEIGHT: Final = 118.0
LEFT, RIGHT = 8.0, 8.0
MIDDLE: Final = 52.0
ROOM: Final = 40.0
"""Half the height that the thickest place takes."""


@dataclass(frozen=True, slots=True)
class FilledStation:
    """A station, with sizes as far as they are known, all in mm; ``words`` name it when it is pointed at.

    state : done, due, ahead or passed over.
    """

    at_mm: float
    low_90_mm: float | None
    high_90_mm: float | None
    measured_mm: float | None
    outside: bool
    state: str
    words: str


def thong_picture(
    name: str, stations: Sequence[FilledStation], ends_mm: tuple[float, float], ends: tuple[str, str]
) -> str:
    """The thong lying along the page, as an SVG in the colours of the page.

    ends_mm : where it begins and ends; ends : the same in words. Thickness is drawn larger than length.
    """
    low, high = ends_mm
    across = Axis(low, max(high, low + 1.0), LEFT, WIDTH - RIGHT)
    sizes = [x for one in stations for x in (one.high_90_mm, one.measured_mm) if x is not None]
    up = Axis(0.0, max(sizes, default=10.0) / 2, 0.0, ROOM)
    parts = [*_body(stations, across, up), *(_mark(one, across, up) for one in stations)]
    for at, words, anchor in ((across.start, ends[0], "start"), (across.end, ends[1], "end")):
        parts.append(words_at(at, HEIGHT - 6, words, "small", text_anchor=anchor))
    return chart(name, HEIGHT, rule(across.start, MIDDLE, across.end, MIDDLE, "grid"), *parts)


def _body(stations: Sequence[FilledStation], across: Axis, up: Axis) -> Iterator[str]:
    """What is expected, from station to station; broken where nothing is."""
    run: list[tuple[float, float]] = []
    for one in (*stations, None):
        if one is not None and one.high_90_mm is not None:
            run.append((across.at(one.at_mm), up.at(one.high_90_mm / 2)))
            continue
        if len(run) > 1:
            over = [(x, MIDDLE - half) for x, half in run]
            under = [(x, MIDDLE + half) for x, half in reversed(run)]
            yield path([*over, *under], closed=True, class_="chance")
        run = []


def _mark(one: FilledStation, across: Axis, up: Axis) -> str:
    x = across.at(one.at_mm)
    named = title(one.words)
    if one.measured_mm is not None:
        half = up.at(one.measured_mm / 2)
        stroke = element(
            "line",
            x1=x,
            x2=x,
            y1=MIDDLE - half,
            y2=MIDDLE + half,
            stroke_width=3,
            class_="middle" if one.outside else "target",
        )
        return element("g", named, stroke)
    half = up.at(max(one.high_90_mm or 0.0, 2.0) / 2)
    if one.state == "due":
        top = MIDDLE - half - 2
        arrow = path([(x, top), (x - 6, top - 10), (x + 6, top - 10)], closed=True, class_="new")
        return element("g", named, arrow, rule(x, MIDDLE - half, x, MIDDLE + half, "axis"))
    return element("g", named, rule(x, MIDDLE - 3, x, MIDDLE + 3, "axis" if one.state == "ahead" else "grid"))
