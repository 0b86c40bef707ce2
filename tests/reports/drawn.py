"""Reads a drawing back: places of its marks, and what the scale that it states makes of them."""

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass

Point = tuple[float, float]
STATED = re.compile(r"Scale 1 : ([\d.]+) along, (?:([\d.]+) : 1|1 : ([\d.]+)) across")


@dataclass(frozen=True)
class Band:
    """One layer's shape: its role, its place in the list of layers, its corners."""

    role: str
    place: int
    corners: tuple[Point, ...]

    def bounds(self, x: float) -> Point | None:
        """Lower and upper edge (y) at x, None beside it. Edges run straight up where the stack changes."""
        half = len(self.corners) // 2
        outer, inner = self.corners[:half], self.corners[half:][::-1]
        found = [edge(line, x) for line in (inner, outer)]
        return None if None in found else (found[0], found[1])  # type: ignore[return-value]


def edge(line: tuple[Point, ...], x: float) -> float | None:
    """The height of a staircase between its upright parts."""
    for (x0, y0), (x1, y1) in zip(line[::2], line[1::2], strict=True):
        assert y0 == y1
        if x0 < x < x1:
            return y0
    return None


class Picture:
    """A drawing as somebody reads it who knows nothing but what stands on it."""

    def __init__(self, picture: str) -> None:
        self.root = ET.fromstring(picture.encode())
        self.texts = [(x.text or "", float(x.get("x", 0)), float(x.get("y", 0))) for x in self.all("text")]
        stated = next(match for text, *_ in self.texts if (match := STATED.search(text)))
        self.along = float(stated[1])
        self.across = float(stated[2]) if stated[2] else 1 / float(stated[3])
        self.axis = float(next(x for x in self.all("line") if x.get("class") == "axis").get("y1", 0))

    def all(self, name: str) -> list[ET.Element]:
        return [x for x in self.root.iter() if x.tag == f"{{http://www.w3.org/2000/svg}}{name}"]

    def marked(self, name: str, kind: str) -> list[ET.Element]:
        return [x for x in self.all(name) if (x.get("class") or "").split()[:1] == [kind]]

    def stations(self) -> dict[str, float]:
        """Places on the sheet of the stations that the ruler names."""
        return {x.text or "": float(x.get("x", 0)) for x in self.marked("text", "station")}

    def finished(self) -> list[Point]:
        """Readings of the finished whip: place on the sheet, diameter by the stated scale."""
        return [
            (float(x.get("cx", 0)), 2 * (float(x.get("cy", 0)) - self.axis) / self.across)
            for x in self.marked("circle", "reading")
        ]

    def inner(self) -> list[Point]:
        """Readings of inner layers likewise; a mark lies about the middle of its corners."""
        found = []
        for shape in self.marked("path", "inner"):
            points = corners(shape)
            x, y = (sum(p[k] for p in points) / len(points) for k in (0, 1))
            found.append((x, 2 * (self.axis - y) / self.across))
        return found

    def bands(self) -> list[Band]:
        found = []
        for shape in self.marked("path", "band"):
            _, *role, place = (shape.get("class") or "").split()
            found.append(Band(" ".join(role), int(place), corners(shape)))
        return found

    def diameter(self, y: float) -> float:
        return 2 * abs(y - self.axis) / self.across


def corners(shape: ET.Element) -> tuple[Point, ...]:
    numbers = [float(x) for x in re.findall(r"-?[\d.]+", shape.get("d") or "")]
    return tuple(zip(numbers[::2], numbers[1::2], strict=True))
