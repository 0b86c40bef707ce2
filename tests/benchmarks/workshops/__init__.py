"""Simulated workshops whose truth is known, of several kinds of mechanics.

None of them imports the project's own geometry. ``TUNING`` may be looked at when the model is made;
``HELD_OUT`` must not: no constant, prior or feature is chosen by how well it does there.
"""

from tests.benchmarks.workshops.laying import Mechanics
from tests.benchmarks.workshops.power_law import PowerLaw
from tests.benchmarks.workshops.ring_packing import RingPacking
from tests.benchmarks.workshops.surface_height import SurfaceHeight
from tests.benchmarks.workshops.void_energy import VoidEnergy

TUNING: tuple[Mechanics, ...] = (RingPacking(), SurfaceHeight(), VoidEnergy())
HELD_OUT: tuple[Mechanics, ...] = (PowerLaw(),)
MECHANICS: tuple[Mechanics, ...] = TUNING + HELD_OUT
