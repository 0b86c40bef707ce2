"""Mass along a thong: what the strands weigh, where they balance, how much cord they take.

Stations and lengths in mm from the whip's datum, masses in g, cord in m. Between two changes of a
schedule the stack is the same, so a thong is a row of sections of constant mass per length. What lies
before the thong and hangs on it: ``whole_mass``.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from plaitlog.models.errors import Finding
from plaitlog.models.geometry import (
    FIBRE_DENSITY,
    fibre_density,
    geometric_diameter,
    mass_per_length_g_per_m,
    strand_area_mm2,
    strand_path,
    strands_of,
)
from plaitlog.models.stack import Stack, StackLayer, stack_at, tuck_mm
from plaitlog.models.whip import Cord, Foundation, Whip

SHOT_PACKING: Final = 0.6
"""Share of a filled sheath that is shot: spheres pack to 0.60 poured and 0.64 shaken (Scott 1960)."""
SHOT_DENSITY: Final = {"steel": 7.85, "lead": 11.34}
"""g/cm3, handbook values from memory; shot whose metal is not named counts as steel."""
WRAP_G_PER_CM3: Final = 0.8
"""A layer given by its size alone, where its words name no material. Physical reasoning: tape, thread or yarn
that fills two thirds of its space."""
TURN_GRID_MM: Final = 25.0
"""Longest section where measured turn lengths let the plait angle change between two steps (own choice)."""


@dataclass(frozen=True, slots=True)
class MassSection:
    """A length of constant mass per length; ``cord_m`` and ``cord_g`` by cord name, for the whole section.

    given_g : of it, what layers without strands weigh, which is guessed from their size and words.
    """

    from_mm: float
    to_mm: float
    mass_g: float
    cord_m: Mapping[str, float]
    cord_g: Mapping[str, float]
    given_g: float = 0.0


@dataclass(frozen=True, slots=True)
class MassDistribution:
    """Sections from the datum to the point, and what could not be told of the mass."""

    sections: tuple[MassSection, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def mass_g(self) -> float:
        return math.fsum(section.mass_g for section in self.sections)

    @property
    def balance_mm(self) -> float:
        """Centre of mass of the thong laid straight, from the whip's datum; NaN where nothing weighs."""
        mass = self.mass_g
        moment = math.fsum(s.mass_g * (s.from_mm + s.to_mm) / 2 for s in self.sections)
        return moment / mass if mass > 0 else math.nan

    def inertia_g_mm2(self, about_mm: float = 0.0) -> float:
        """Moment of inertia of a thin line of this mass about a station (its thickness left out)."""
        return math.fsum(
            s.mass_g * (((s.from_mm + s.to_mm) / 2 - about_mm) ** 2 + (s.to_mm - s.from_mm) ** 2 / 12)
            for s in self.sections
        )

    @property
    def cord_use_m(self) -> dict[str, float]:
        """Metres of each cord in the whip, unstretched, with nothing for tails and waste."""
        return _sums(section.cord_m for section in self.sections)

    @property
    def given_g(self) -> float:
        return math.fsum(section.given_g for section in self.sections)

    @property
    def cord_mass_g(self) -> dict[str, float]:
        return _sums(section.cord_g for section in self.sections)


@dataclass(frozen=True, slots=True)
class LaidLayer:
    """One layer between two diameters in mm; its angle and cover where it is plaited (else None)."""

    layer: StackLayer
    inner_mm: float
    outer_mm: float
    cos_angle: float | None = None
    cover: float | None = None

    @property
    def path(self) -> float:
        """Length of a strand, as it is kept, per length of thong; what is not plaited lies straight."""
        return 1.0 if self.cos_angle is None else float(strand_path(self.cos_angle))


Resolve = Callable[[Sequence[Stack]], Sequence[tuple[LaidLayer, ...]]]
"""How the layers of stacks lie: by geometry alone, or as a fit corrects it."""


def by_geometry(stacks: Sequence[Stack]) -> list[tuple[LaidLayer, ...]]:
    """How the layers lie by geometry alone."""
    return [
        tuple(
            LaidLayer(x.layer, x.inner_mm, x.outer_mm, x.cos_angle, x.cover)
            for x in geometric_diameter(stack).layers
        )
        for stack in stacks
    ]


def mass_distribution(
    whip: Whip,
    cords: Mapping[str, Cord],
    after_layer: int | None = None,
    resolve: Resolve = by_geometry,
) -> MassDistribution:
    """Mass along ``whip`` from its datum to its point; with ``after_layer`` only of the layers up to it.

    Raises
    ------
    StackNotKnownError
        Where the record does not say what lies somewhere along the thong.
    ValueError
        Where the length of the thong is not known.
    """
    return mass_of(whip, laid_along(whip, cords, after_layer, resolve))


def mass_of(whip: Whip, laid: Sequence["LaidSection"]) -> MassDistribution:
    """Mass of sections of ``whip`` whose layers are laid."""
    found: dict[str, Finding] = {}
    sections = [
        mass_section(one.from_mm, one.to_mm, one.stack.foundation_mm, one.layers, whip, found) for one in laid
    ]
    return MassDistribution(tuple(sections), tuple(found.values()))


@dataclass(frozen=True, slots=True)
class LaidSection:
    """A length of thong over which the same layers lie in the same way."""

    from_mm: float
    to_mm: float
    stack: Stack
    layers: tuple[LaidLayer, ...]


def laid_along(
    whip: Whip, cords: Mapping[str, Cord], after_layer: int | None = None, resolve: Resolve = by_geometry
) -> list[LaidSection]:
    """How the layers lie from the datum to the point; errors as ``mass_distribution``."""
    places, stacks = stacks_along(whip, cords, after_layer)
    return [
        LaidSection(low, high, stack, laid)
        for (low, high), stack, laid in zip(places, stacks, resolve(stacks), strict=True)
    ]


def stacks_along(
    whip: Whip, cords: Mapping[str, Cord], after_layer: int | None = None
) -> tuple[list[tuple[float, float]], list[Stack]]:
    """Sections from the datum to the point and the stack of each; errors as ``mass_distribution``."""
    end = whip.point_mm
    if end is None or end <= 0:
        raise ValueError(f"{whip.label}: the weight needs the length of the thong; note thong_length")
    most = len(whip.layers[:after_layer])
    places = list(pairwise(_changes(whip, end)))
    # A layer that has ended leaves a stack of the layers below it: only the listed ones are asked for.
    return places, [_up_to(stack_at(whip, (low + high) / 2, cords), most) for low, high in places]


def _up_to(stack: Stack, most: int) -> Stack:
    return Stack(tuple(layer for layer in stack.layers if layer.slot <= most), stack.foundation_mm)


def mass_section(
    low: float,
    high: float,
    foundation_mm: float,
    layers: Sequence[LaidLayer],
    whip: Whip,
    findings: dict[str, Finding],
) -> MassSection:
    """The same layers from ``low`` to ``high``; what cannot be told of its mass is added to ``findings``."""
    length_m = (high - low) / 1000
    cord_m: dict[str, float] = {}
    cord_g: dict[str, float] = {}
    given_g = 0.0
    for layer in layers:
        path = layer.path
        given_g += _given_g(layer, whip, length_m, findings)
        for group in layer.layer.groups:
            name, strands = group.cord.name, strands_of(group)
            density = strand_area_mm2(group.cord, group.gutted) * fibre_density(group.cord)
            cord_m[name] = cord_m.get(name, 0.0) + strands * path * length_m
            grams = float(mass_per_length_g_per_m(strands, density, path)) * length_m
            cord_g[name] = cord_g.get(name, 0.0) + grams
    rod = _rod_g(foundation_mm, whip, length_m, findings)
    return MassSection(low, high, math.fsum(cord_g.values()) + given_g + rod, cord_m, cord_g, given_g)


def _given_g(found: LaidLayer, whip: Whip, length_m: float, findings: dict[str, Finding]) -> float:
    """Mass of a layer that has a size and no strands; 0 of any other."""
    if found.layer.groups:
        return 0.0
    words = (whip.layers[found.layer.slot - 1].what or "").lower()
    if "shot" in words:
        metal = "lead" if "lead" in words else "steel"
        density = SHOT_PACKING * SHOT_DENSITY[metal]
    else:
        density = WRAP_G_PER_CM3
        findings["layer-mass"] = Finding(
            "layer-mass", "the mass of a layer given by its size alone is guessed", "weigh after that layer"
        )
    return density * math.pi / 4 * (found.outer_mm**2 - found.inner_mm**2) * length_m


def _rod_g(diameter_mm: float, whip: Whip, length_m: float, findings: dict[str, Finding]) -> float:
    if diameter_mm == 0.0 or not isinstance(whip.foundation, Foundation):
        return 0.0
    material = (whip.foundation.material or "").lower()
    density = next((value for word, value in FIBRE_DENSITY.items() if word in material), None)
    if density is None:
        findings["foundation-mass"] = Finding(
            "foundation-mass", "the mass of the foundation is left out", "note its material, such as steel"
        )
        return 0.0
    return density * math.pi / 4 * diameter_mm**2 * length_m


def _changes(whip: Whip, end: float) -> list[float]:
    """Every station in the thong where the stack may change, with both ends, in order."""
    found = {0.0, end}
    if isinstance(whip.foundation, Foundation):
        # Without its own end a foundation stops at the datum, or where a handle counted from the butt does.
        found.add(whip.foundation.to_mm or whip.handle_length_mm or 0.0)
    for layer in whip.layers:
        found.update(x for x in (layer.from_mm, layer.to_mm) if x is not None)
        for step in layer.schedule.steps if layer.schedule is not None else ():
            places = (step.place.low_mm, step.place.high_mm)
            found.update(places)
            fate = step.fate or layer.fate
            if fate is not None and fate.kind == "tuck":
                found.update(place + tuck_mm(fate) for place in places)
            elif fate is not None and fate.until_mm is not None:
                found.add(fate.until_mm)
    if whip.turn_lengths:
        found.update(TURN_GRID_MM * k for k in range(1, math.ceil(end / TURN_GRID_MM)))
        for turn in whip.turn_lengths:
            found.update((turn.at_mm - turn.turn_mm / 2, turn.at_mm, turn.at_mm + turn.turn_mm / 2))
    return sorted(x for x in found if 0.0 <= x <= end)


def _sums(parts: Iterable[Mapping[str, float]]) -> dict[str, float]:
    total: dict[str, float] = {}
    for part in parts:
        for name, value in part.items():
            total[name] = total.get(name, 0.0) + value
    return total
