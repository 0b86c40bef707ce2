"""Pages of Orrin's old notebook: start counts, a drop here and there, three diameters, and many holes."""

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final

from plaitlog.seed_demo.bench import Calipers, inches
from plaitlog.seed_demo.builds import INCH_MM, Build, build
from plaitlog.seed_demo.chance import Chance
from plaitlog.seed_demo.cords import CordNature
from plaitlog.seed_demo.makers import ORRIN
from plaitlog.seed_demo.thong import PlaitedLayer

PAGES: Final = (
    "bullwhip", "stock whip", "bullwhip", "cow whip", "stock whip", "bullwhip", "snake whip", "stock whip",
    "bullwhip",
)  # fmt: skip


def pages(seed: int, cords: Mapping[str, CordNature]) -> list[dict[str, Any]]:
    """One record a page. Every third page gives a length; every second says the layers are all there."""
    found = []
    for number, name in enumerate(PAGES, start=1):
        chance = Chance(seed, "notebook", number)
        day = dt.date(2019, 5, 1) + dt.timedelta(days=80 * number)
        whip = build(f"N-{number:02d}", name, ORRIN, 2 * number, day, chance, cords)
        found.append(_page(whip, chance, number))
    return found


def _page(whip: Build, chance: Chance, number: int) -> dict[str, Any]:
    record: dict[str, Any] = {"kind": "whip", "label": whip.label, "type": whip.type}
    if number % 4:
        record["maker"] = whip.maker.name
    if number % 3 != 1:
        record["thong_length"] = inches(whip.thong.length_mm, feet=True)
    else:
        record["quoted_length"] = f"about {whip.quoted_feet:g} ft"
    layers = [layer for layer in whip.thong.layers if layer.cords]
    record["layers"] = [
        {"role": layer.role, "cord": layer.cords[0], "strands": _half_remembered(layer, chance)}
        for layer in layers
    ]
    if any(len(layer.cords) > 1 for layer in layers):
        record["notes"] = "overlay in two colours, second cord not noted"
    elif number % 2 and len(layers) == len(whip.thong.layers):
        record["layers_complete"] = True
    record["readings"] = _three_diameters(whip, chance, number)
    if number % 3 == 0:
        record["ratings"] = {"overall": chance.whole(3, 6)}
    return record


def _half_remembered(layer: PlaitedLayer, chance: Chance) -> str:
    """The start count, then what was noted of the drops: about, between, or not at all."""
    first, *rest = layer.drops
    parts = [f"in: {first.count}"]
    if rest and chance.happens(0.75):
        parts.append(f"~{_whole_inches(rest[0].at_mm)}: -{first.count - rest[0].count}")
    if len(rest) > 2 and chance.happens(0.5):
        parts.append(f"?: -{rest[0].count - rest[1].count}")
    if rest and rest[-1].count == 0 and chance.happens(0.6):
        end = _whole_inches(rest[-1].at_mm)
        parts.append(f"{max(end - 3, 1)}..{end + 2}: end")
    else:
        parts.append("?")
    return "; ".join(parts)


def _whole_inches(at_mm: float) -> int:
    return round(at_mm / INCH_MM)


def _three_diameters(whip: Build, chance: Chance, number: int) -> str:
    calipers = Calipers(whip, chance)
    length = whip.thong.length_mm
    sizes = [calipers.read(at) for at in (10.0, length / 2, length - 15)]
    if number % 3 != 1:
        names = ("thick", "mid", "p")
        return "in mm: " + "; ".join(
            f"{name} {_comma(size)}" for name, size in zip(names, sizes, strict=True)
        )
    doubt = "?" if number % 2 == 0 else ""
    return f"in mm: 1: {_comma(sizes[0])}{doubt}; p {_comma(sizes[2])}"


def _comma(size_mm: float) -> str:
    return f"{round(size_mm * 2) / 2:g}".replace(".", ",")
