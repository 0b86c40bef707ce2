"""Mass of a whole whip: the thong, the handle before it, the heel knot, and what hangs at the point.

Units and stations as in ``mass``. Handles and fittings are guessed from little: their shares of the mass are
kept apart, so that weighed whips can correct them and the interval can hold the guess.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from plaitlog.models.errors import Finding
from plaitlog.models.mass import (
    LaidSection,
    MassDistribution,
    MassSection,
    Resolve,
    by_geometry,
    mass_distribution,
    mass_section,
)
from plaitlog.models.stack import PLAITED, Stack, stack_at
from plaitlog.models.whip import NONE, Cord, Foundation, KnownNone, Whip

WOOD_G_PER_CM3: Final = 0.7
"""A handle of its own is taken for hardwood (density from memory, 0.65 to 0.75)."""
HANDLE_MM: Final = 20.0
"""Diameter of a handle of its own where none is noted (common practice, no source)."""
HANDLE_SPREAD: Final = 0.3
"""Relative sd of such a handle's mass. Physical reasoning: a tenth in diameter, a tenth in density."""
NO_HANDLE_KNOWN: Final = 0.3
"""Sd of log mass where not even the handle's length is known. Physical reasoning: up to half the thong."""
HEEL_G: Final = 10.0
"""Heel knot with its nail or tape (common practice, no source)."""
FITTING_G: Final = {"fall": 10.0, "cracker": 2.0}
"""Half a metre of fall, a cracker of thin thread (common practice, no source); another part counts 10 g."""
OTHER_FITTING_G: Final = 10.0
FITTING_SPREAD: Final = 0.4
"""Relative sd of the mass of heel knot and of each fitting (own judgement)."""
FALL_REACH_MM: Final = 300.0
"""The middle of a fall beyond the point (common practice, no source: falls of about 0.6 m)."""
UNSTATED: Final = ("fall", "cracker")
"""Where it is not noted what hung at the point, each of these may have: half its mass counts."""
GIVEN_SPREAD: Final = 0.4
"""Relative sd of what layers without strands weigh (own judgement: their words tell little)."""
ROD_LEFT_OUT: Final = 0.1
"""Sd of log mass where a rod of unknown material is left out. Physical reasoning: 30 g of steel in 300 g."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeMass:
    """``thong`` from the datum on, ``before`` it the handle, of which ``handle_g`` is a piece of its own.

    with_parts : what hangs on it beside the heel knot (None: not noted). finished : else it lies on the scale
    before further layers, and nothing hangs on it yet. findings : of all.
    """

    thong: MassDistribution
    before: tuple[MassSection, ...]
    handle_g: float
    with_parts: tuple[str, ...] | KnownNone | None
    finished: bool
    findings: tuple[Finding, ...]

    @property
    def fittings(self) -> tuple[MassSection, ...]:
        """Heel knot and fittings, each a section of no length where it hangs."""
        if not self.finished:
            return ()
        butt = self.before[0].from_mm if self.before else 0.0
        reach = self.thong.sections[-1].to_mm + FALL_REACH_MM
        hung = [_at(reach if name in FITTING_G else butt, mass) for name, mass in self._hung]
        return (_at(butt, HEEL_G), *hung)

    @property
    def along(self) -> MassDistribution:
        """All of it in one row of sections, stations from the whip's datum."""
        return MassDistribution((*self.before, *self.thong.sections, *self.fittings), self.findings)

    @property
    def shares(self) -> dict[str, float]:
        """Shares of the mass that are no strands: rods, layers given by size, handle, fittings."""
        along = self.along
        mass, strands = along.mass_g, math.fsum(along.cord_mass_g.values())
        fittings = math.fsum(section.mass_g for section in self.fittings)
        rod = max(mass - strands - along.given_g - self.handle_g - fittings, 0.0)
        parts = {"rod": rod, "given": along.given_g, "handle": self.handle_g, "fittings": fittings}
        return {part: grams / mass for part, grams in parts.items()}

    @property
    def unknown_sd(self) -> float:
        """Sd of the log of the whole mass from everything that is guessed or left out."""
        # Half of a mass that is there or not has that half as its spread.
        spread = 1.0 if self.with_parts is None else FITTING_SPREAD
        heel = HEEL_G if self.finished else 0.0
        guessed = [HANDLE_SPREAD * self.handle_g, FITTING_SPREAD * heel, GIVEN_SPREAD * self.along.given_g]
        grams = math.hypot(*guessed, *(spread * mass for _, mass in self._hung))
        codes = {finding.code for finding in self.findings}
        no_handle = NO_HANDLE_KNOWN if "handle-mass" in codes else 0.0
        open_sd = math.hypot(no_handle, ROD_LEFT_OUT if "foundation-mass" in codes else 0.0)
        return math.hypot(grams / self.along.mass_g, open_sd)

    @property
    def _hung(self) -> list[tuple[str, float]]:
        """What hangs on it, each with its usual mass in g; of what may hang there half."""
        if not self.finished:
            return []
        if self.with_parts is None:
            return [(name, FITTING_G[name] / 2) for name in UNSTATED]
        if self.with_parts == NONE:
            return []
        return [(name, FITTING_G.get(name, OTHER_FITTING_G)) for name in self.with_parts]


def whole_mass(
    whip: Whip,
    cords: Mapping[str, Cord],
    after_layer: int | None = None,
    resolve: Resolve = by_geometry,
) -> WholeMass:
    """Mass of the finished whip without fall and cracker (``replace(..., with_parts=...)`` hangs them on).

    With ``after_layer`` of what is there once that layer is: a rod within the handle, no handle of its own.
    Raises as ``mass_distribution`` does.
    """
    return whole_mass_of(
        whip, cords, mass_distribution(whip, cords, after_layer, resolve), after_layer, resolve
    )


def whole_mass_of(
    whip: Whip,
    cords: Mapping[str, Cord],
    thong: MassDistribution,
    after_layer: int | None = None,
    resolve: Resolve = by_geometry,
) -> WholeMass:
    """The same where the mass of the thong is worked out; ``resolve`` lays the plaits over its rod."""
    findings = {finding.code: finding for finding in thong.findings}
    before, handle_g = _handle(whip, cords, after_layer, resolve, findings)
    return WholeMass(
        thong=thong,
        before=before,
        handle_g=handle_g,
        with_parts=NONE,
        finished=after_layer is None,
        findings=tuple(findings.values()),
    )


def handle_before_mm(whip: Whip) -> float | None:
    """Length of the handle before the datum: 0 where the layers are counted from the butt, None unknown."""
    return 0.0 if whip.datum == "butt" else whip.handle_length_mm


def _handle(
    whip: Whip,
    cords: Mapping[str, Cord],
    after_layer: int | None,
    resolve: Resolve,
    findings: dict[str, Finding],
) -> tuple[tuple[MassSection, ...], float]:
    """Sections before the datum, and the mass in g of a handle of its own among them."""
    length = handle_before_mm(whip)
    rod = isinstance(whip.foundation, Foundation)
    if length == 0 or (after_layer is not None and not rod):
        return (), 0.0
    if length is None:
        findings["handle-mass"] = Finding(
            "handle-mass", "the mass of the handle is not known", "note the length of the handle, 0 for none"
        )
        return (), 0.0
    over = over_rod(whip, cords, after_layer, resolve)
    if over is not None:
        section = mass_section(-length, 0.0, over.stack.foundation_mm, over.layers, whip, findings)
        return (section,), 0.0
    diameter = whip.handle_diameter_mm or HANDLE_MM
    mass = WOOD_G_PER_CM3 * math.pi / 4 * diameter**2 * length / 1000
    return (MassSection(-length, 0.0, mass, {}, {}),), mass


def over_rod(
    whip: Whip, cords: Mapping[str, Cord], after_layer: int | None = None, resolve: Resolve = by_geometry
) -> LaidSection | None:
    """How the plaits lie over a rod before the datum; None where there is no such handle.

    Over a rod the plaits of the thong's thick end run on to the butt (common practice, no source); without
    one the handle is a piece of its own.
    """
    stack = stack_over_rod(whip, cords, after_layer)
    if stack is None:
        return None
    return LaidSection(-(handle_before_mm(whip) or 0.0), 0.0, stack, resolve([stack])[0])


def stack_over_rod(whip: Whip, cords: Mapping[str, Cord], after_layer: int | None = None) -> Stack | None:
    """The plaits over a rod before the datum; None where there is no such handle."""
    rod = whip.foundation
    if not handle_before_mm(whip) or not isinstance(rod, Foundation):
        return None
    thick = stack_at(whip, 1e-6, cords)
    most = len(whip.layers) if after_layer is None else after_layer
    plaits = tuple(layer for layer in thick.layers if layer.role in PLAITED and layer.slot <= most)
    return Stack(plaits, rod.diameter_mm)


def _at(place_mm: float, mass_g: float) -> MassSection:
    return MassSection(place_mm, place_mm, mass_g, {}, {})
