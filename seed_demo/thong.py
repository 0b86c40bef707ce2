"""A thong as it was really plaited: layers with strand counts along it, cut open at any station.

A count holds from its place to the next; dropped strands are cut, tucked for a length, or run on.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

from plaitlog.seed_demo.cords import CordNature
from plaitlog.seed_demo.mechanics import Ply, Section, Strands, section


@dataclass(frozen=True, slots=True)
class Parting:
    """Dropped strands are cut, tucked (for ``length_mm``) or run on (to ``until_mm``, None: the point)."""

    kind: str = "cut"
    length_mm: float = 0.0
    gutted: bool = False
    until_mm: float | None = None


CUT: Final = Parting()


@dataclass(frozen=True, slots=True)
class Drop:
    """From ``at_mm`` on ``count`` strands run; ``parting`` where it is not the layer's."""

    at_mm: float
    count: int
    parting: Parting | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaitedLayer:
    """A layer of strands; or a body of ``diameter_mm`` or wrap of ``thickness_mm`` between two places."""

    role: str
    cords: tuple[str, ...] = ()
    drops: tuple[Drop, ...] = ()
    parting: Parting = CUT
    diameter_mm: float | None = None
    thickness_mm: float | None = None
    from_mm: float = 0.0
    to_mm: float = 0.0
    what: str | None = None
    grams_per_m: float = 0.0

    def count_at(self, at_mm: float) -> int:
        count = 0
        for drop in self.drops:
            if at_mm < drop.at_mm:
                break
            count = drop.count
        return count

    def inside_at(self, at_mm: float) -> dict[bool, int]:
        """Dropped strands that still lie inside: how many gutted (True) and how many whole (False)."""
        inside: dict[bool, int] = {}
        for before, drop in pairwise(self.drops):
            parting = drop.parting or self.parting
            if parting.kind == "cut":
                continue
            end = drop.at_mm + parting.length_mm if parting.kind == "tuck" else parting.until_mm
            if drop.at_mm <= at_mm and (end is None or at_mm < end):
                inside[parting.gutted] = inside.get(parting.gutted, 0) + before.count - drop.count
        return inside


@dataclass(frozen=True, slots=True, kw_only=True)
class Thong:
    """The layers inside out, over a foundation that runs to ``foundation_to_mm``."""

    length_mm: float
    layers: tuple[PlaitedLayer, ...]
    foundation_mm: float = 0.0
    foundation_to_mm: float = 0.0
    cords: Mapping[str, CordNature] = field(repr=False)

    def section_at(self, at_mm: float, after_layer: int | None = None) -> Section:
        """The cross-section at a station, of the first ``after_layer`` layers if given, at the usual pull."""
        plies: list[Ply] = []
        for layer in self.layers[:after_layer]:
            plies.extend(self._plies(layer, at_mm))
        return section(plies, self.foundation_mm if at_mm < self.foundation_to_mm else 0.0)

    def _plies(self, layer: PlaitedLayer, at_mm: float) -> list[Ply]:
        if not layer.cords:
            if not layer.from_mm <= at_mm <= layer.to_mm:
                return []
            return [
                Ply(
                    layer.role,
                    diameter_mm=layer.diameter_mm,
                    thickness_mm=layer.thickness_mm,
                    grams_per_m=layer.grams_per_m,
                )
            ]
        found: list[Ply] = []
        natures = [self.cords[name] for name in layer.cords]
        for gutted, inside in layer.inside_at(at_mm).items():
            left = [nature.sheath if gutted else nature for nature in natures]
            found.append(Ply("filler", tuple(Strands(each, inside / len(left)) for each in left)))
        if count := layer.count_at(at_mm):
            strands = tuple(Strands(each, count / len(natures)) for each in natures)
            found.append(Ply(layer.role, strands, floats=floats(count)))
        return found


def floats(count: int) -> int:
    """How many strands one strand passes over at a time, in the pattern the workshop plaits a count in."""
    return {4: 1, 12: 3, 18: 3}.get(count, 2)


def pattern(count: int) -> str | None:
    """The pattern of a count: unders and overs of one turn add up to half of it."""
    known = {4: "u1o1", 6: "u1o2", 8: "u2o2", 10: "u2o3", 12: "u3o3", 14: "u3o4", 16: "u2o2u2o2"}
    more = {18: "u3o3u1o2", 20: "u2o3u2o3", 24: "u3o3u3o3"}
    return (known | more).get(count)
