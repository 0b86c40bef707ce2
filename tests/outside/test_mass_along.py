"""Where the mass of a tapered rod lies: closed forms of a frustum."""

import math

import numpy as np
import pytest

from plaitlog.models.handling.mass_parameters import HAND_MM, mass_parameters
from plaitlog.models.mass import MassDistribution, MassSection
from plaitlog.models.whole_mass import WholeMass

SLICES = 4000


def frustum(thick: float, thin: float, length: float) -> WholeMass:
    """A rod of unit density, radius ``thick`` at 0 and ``thin`` at ``length``, in thin slices; no handle, and
    nothing hangs on it."""
    edges = np.linspace(0, length, SLICES + 1)
    radius = thick + (thin - thick) * (edges[:-1] + edges[1:]) / 2 / length
    grams = math.pi * radius**2 * length / SLICES
    sections = tuple(
        MassSection(float(low), float(high), float(mass), {}, {})
        for low, high, mass in zip(edges, edges[1:], grams, strict=False)
    )
    return WholeMass(
        thong=MassDistribution(sections),
        before=(),
        handle_g=0.0,
        with_parts="none",
        finished=False,
        findings=(),
    )


@pytest.mark.parametrize(("thick", "thin", "length"), [(3, 1, 10), (2, 1, 6), (10, 2, 1000), (1, 1, 4)])
def test_a_tapered_rod_has_the_inertia_and_the_halves_of_a_frustum(
    thick: float, thin: float, length: float
) -> None:
    """Thickness left out, the inertia about the thick end is pi h^3 (R^2 + 3 R r + 6 r^2) / 30 and the mass
    pi h (R^2 + R r + r^2) / 3 (any handbook); half the mass lies where the cube of the radius is the mean of
    those at both ends."""
    found = mass_parameters(frustum(thick, thin, length), 0.0, -HAND_MM)
    inertia = math.pi * length**3 * (thick**2 + 3 * thick * thin + 6 * thin**2) / 30
    mass = math.pi * length * (thick**2 + thick * thin + thin**2) / 3
    assert found["inertia_per_mass_mm2"].value == pytest.approx(inertia / mass, rel=1e-5)
    assert found["gyration_radius_mm"].value == pytest.approx(math.sqrt(inertia / mass), rel=1e-5)
    half = ((thick**3 + thin**3) / 2) ** (1 / 3)
    expected = 0.5 if thick == thin else (thick - half) / (thick - thin)
    assert found["half_mass_fraction"].value == pytest.approx(expected, rel=1e-5)


def test_the_wave_speed_factor_of_a_tapered_rod_is_its_taper_ratio() -> None:
    """Speed goes as the root of tension over mass per length, mass per length as the square of the radius: of
    its mean over the first and the last tenth, from 10 to 9.2 and from 2.8 to 2."""
    found = mass_parameters(frustum(10, 2, 1000), 0.0, None)
    thick, point = 10**2 + 10 * 9.2 + 9.2**2, 2.8**2 + 2.8 * 2 + 2**2
    assert found["wave_speed_factor"].value == pytest.approx(math.sqrt(thick / point), rel=1e-5)
    assert found["mass_ratio"].value == pytest.approx(found["wave_speed_factor"].value ** 2)
    assert "inertia_per_mass_mm2" not in found  # where the hand is is not known
