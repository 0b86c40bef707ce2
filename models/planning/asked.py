"""What a plan is asked for: the wanted diameters, the layers, and the rules of the bench.

Stations and lengths in mm from the datum.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from plaitlog.models.planning.shares import CordShare, split
from plaitlog.models.taper import Array
from plaitlog.models.whip import Cord, Fate, Layer, Role

CUT: Final = Fate("cut")
ALMOST_MM: Final = 1e-6
"""Places that are no further apart are the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """What a hand would do. Counts: strands; lengths: mm. All of it own choice or common practice, no source.

    grid_mm : stations at which a strand may be dropped. plait_counts, core_counts : least and most strands; a
    plait has even counts, and loses pairs; a core loses strands singly. core_spacing_mm, plait_spacing_mm :
    least distance between two drops of one layer, a tuck's length at least; apart_mm : of different layers.
    cover : least and most of a plait. regular : counts of plaits with a regular pattern.
    drop_cost : of each drop in a plait, which changes its pattern; irregular_cost : of a metre at another
    count; both in squared standard deviations of the predicted diameter, of which a station of misfit counts
    one for each 100 mm. start_within : how many standard deviations the thick end may be off at its start.
    most_work : states times nodes that are looked at, some 25 million a second; more is refused.
    """

    grid_mm: float = 10.0
    plait_counts: tuple[int, int] = (4, 24)
    core_counts: tuple[int, int] = (1, 40)
    core_spacing_mm: float = 20.0
    plait_spacing_mm: float = 40.0
    apart_mm: float = 10.0
    cover: tuple[float, float] = (0.70, 1.05)
    regular: tuple[int, ...] = (16, 12, 8)
    drop_cost: float = 0.05
    irregular_cost: float = 0.5
    start_within: float = 3.0
    most_work: float = 2e9

    def place_mm(self, node: int) -> float:
        """Where a node of the grid lies, without the last digits of products: 31 1/2 in are 800.1 mm."""
        return round(node * self.grid_mm, 6)

    def at_nodes_mm(self, nodes: int) -> Array:
        """Where so many nodes lie."""
        return np.round(np.arange(nodes) * self.grid_mm, 6)


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedLayer:
    """A layer to be planned.

    cord : of all its strands, or the first of several. mixed : each of several cords with its share, that one
    first; empty where it is of one. start : strands it begins with, None: open. ends : where it ends, mm;
    "point": it runs to the point; None: open. fate : of dropped strands. When it ends, what is left is cut.
    begun, begun_to_mm : what is plaited already and how far; only what lies ahead of that is planned, and
    ``start`` is the count that runs there.
    """

    role: Role
    cord: Cord
    start: int | None = None
    ends: float | Literal["point"] | None = None
    fate: Fate = CUT
    begun: Layer | None = None
    begun_to_mm: float = 0.0
    mixed: tuple[CordShare, ...] = ()

    @property
    def cords(self) -> tuple[CordShare, ...]:
        """All its cords; of a layer that is begun their shares are the strands that run where it stands."""
        if not self.mixed:
            return (CordShare(self.cord),)
        if self.begun is None or self.begun.schedule is None:
            return self.mixed
        done = [step for step in self.begun.schedule.steps if step.place.high_mm <= self.begun_to_mm]
        running = [count.mid for count in done[-1].counts] if done else [one.share for one in self.mixed]
        return tuple(CordShare(one.cord, share) for one, share in zip(self.mixed, running, strict=True))

    def split(self, count: int) -> tuple[int, ...]:
        """So many strands by cord: a plait's in pairs, unless it began with odd strands of a cord."""
        shares = [one.share for one in self.cords]
        pairs = self.role != "core" and count % 2 == 0 and not (self.begun and any(x % 2 for x in shares))
        return split(count, shares, 2 if pairs else 1)

    def __post_init__(self) -> None:
        if self.begun is not None and (self.start is None or self.begun.schedule is None):
            raise ValueError("of a layer that is begun the count that runs where it stands must be known")
        if self.mixed and self.mixed[0].cord != self.cord:
            raise ValueError("the first cord of several is the layer's own")
        if self.role not in ("core", "belly", "overlay"):
            raise ValueError(f"strands of a {self.role} are not planned; give it as it is")
        if self.role == "overlay" and self.ends not in (None, "point"):
            raise ValueError("the overlay runs to the point")


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Wanted diameters (N + 1,) at the nodes of the grid; no drop before ``held_to_mm`` nor behind
    ``held_from_mm``: parallel ends and transition."""

    diameter_mm: Array
    held_to_mm: float = 0.0
    held_from_mm: float = float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """length_mm : of the thong. layers : innermost first; a ``Layer`` is taken as it is: a binding, a core of
    rope, a layer that is plaited already. cords : those that such layers name."""

    length_mm: float
    layers: tuple[AskedLayer | Layer, ...]
    target: Target
    foundation_mm: float = 0.0
    foundation_to_mm: float = 0.0
    cords: Mapping[str, Cord] = field(default_factory=dict)
    rules: Rules = field(default_factory=Rules)
