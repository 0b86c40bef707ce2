"""What the shapes in the drawing on a page look like: hatchings, marks of readings, the legend."""

from typing import Final

from plaitlog.service.reports.drawing_section import fill_of
from plaitlog.service.reports.drawn_whip import WhipDrawing
from plaitlog.service.reports.page_charts import rule
from plaitlog.service.reports.svg import Attribute, element, path, rect

LAYERS: Final = ("foundation", "core", "filler", "belly", "second belly", "bolster", "binding", "overlay")


def legend(drawing: WhipDrawing, *, wanted: bool) -> list[tuple[str, str]]:
    """Mark (SVG) and words of everything that is drawn."""
    there = {
        fill_of(drawing, layer.role, layer.place) for section in drawing.sections for layer in section.layers
    }
    if drawing.foundation_mm:
        there.add("foundation")
    words = {"filler": "filler: dropped strands that run on inside"}
    found = [(_swatch(filled(1, 1, 26, 12, role)), words.get(role, role)) for role in LAYERS if role in there]
    if any(not section.reason for section in drawing.sections):
        mark = rect(1, 1, 26, 12, class_="interval") + rule(1, 7, 27, 7, "predicted")
        found.append((_swatch(mark), "predicted, with the 90 % interval of the next reading"))
    if wanted:
        found.append((_swatch(rule(1, 7, 27, 7, "wanted")), "wanted by its plan"))
    finished = [reading for reading in drawing.readings if reading.after_layer is None]
    if finished:
        found.append((_swatch(dot(14, 7, "measured")), "measured"))
    if len(finished) < len(drawing.readings):
        found.append((_swatch(diamond(14, 7, "measured inner")), "measured on an inner layer"))
    if any(reading.doubtful for reading in drawing.readings):
        found.append((_swatch(dot(14, 7, "measured doubtful")), "doubtful"))
    if any(section.uncertain for section in drawing.sections):
        mark = filled(1, 1, 26, 12, "range")
        found.append((_swatch(mark), "strand count between two figures"))
    return found


def _swatch(mark: str) -> str:
    return element("svg", mark, viewBox="0 0 28 14", class_="swatch", aria_hidden="true")


def patterns() -> str:
    """The hatchings of the layers: each can be told from the others without colour."""

    def pattern(role: str, size: float, *marks: str) -> str:
        ground = rect(0, 0, size, size, class_=f"lay {role.replace(' ', '-')}")
        return element(
            "pattern", ground, *marks, id=_name(role), width=size, height=size, patternUnits="userSpaceOnUse"
        )

    def dots(size: float, radius: float) -> str:
        return element("circle", cx=size / 2, cy=size / 2, r=radius, class_="dots")

    return element(
        "defs",
        pattern("core", 7, dots(7, 1.1)),
        pattern("filler", 4, dots(4, 0.8)),
        pattern("belly", 7, rule(0, 7, 7, 0, "hatch")),
        pattern("second belly", 5, rule(0, 0, 5, 5, "hatch")),
        pattern("overlay", 9, rule(0, 9, 9, 0, "hatch"), rule(0, 0, 9, 9, "hatch")),
        pattern("range", 4, rule(2, 0, 2, 4, "vague")),
    )


def _name(role: str) -> str:
    return f"lay-{role.replace(' ', '-')}"


def filled(x: float, y: float, width: float, height: float, role: str) -> str:
    """A rectangle filled like a layer."""
    return rect(x, y, width, height, **fill(role))


def fill(role: str) -> dict[str, Attribute]:
    """What fills a layer: a plain colour of the page, or a hatching over one."""
    if role in {"foundation", "bolster", "binding"}:
        return {"class_": f"lay {role}"}
    return {"fill": f"url(#{_name(role)})", "class_": f"layer {role.replace(' ', '-')}"}


def dot(x: float, y: float, kind: str, name: str = "") -> str:
    """A reading of the finished whip; ``name`` is its title."""
    return element("circle", *filter(None, (name,)), cx=x, cy=y, r=3.6, class_=kind)


def diamond(x: float, y: float, kind: str, name: str = "") -> str:
    """A reading of an inner layer."""
    around = ((0.0, -5.0), (5.0, 0.0), (0.0, 5.0), (-5.0, 0.0))
    drawn = path([(x + dx, y + dy) for dx, dy in around], closed=True, class_=kind)
    return element("g", name, drawn) if name else drawn
