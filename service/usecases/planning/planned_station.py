"""What comes out at one station of a plan."""

from collections.abc import Mapping
from dataclasses import dataclass

from plaitlog.models.stack import Stack


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedStation:
    """One station; diameters in mm, angles in degrees, by slot of the plaited layers.

    covers : of those that lie over something.
    """

    at_mm: float
    target_mm: float
    diameter_mm: float
    low_90_mm: float
    high_90_mm: float
    stack: Stack
    covers: Mapping[int, float]
    angles_deg: Mapping[int, float]
