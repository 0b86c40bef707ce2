"""Plans whose layers are given, told by geometry alone: no search, no database."""

from dataclasses import replace

import numpy as np

from plaitlog.models.calibration.calibrated import prior_calibration
from plaitlog.models.planning.asked import Asked, Target
from plaitlog.models.whip import (
    Cord,
    Fate,
    Foundation,
    Layer,
    LayerCord,
    Place,
    Role,
    Step,
    StrandSchedule,
    Whip,
    exactly,
)
from plaitlog.service.usecases.planning.plan import Plan, finish
from plaitlog.service.usecases.predicting import InForce

IN_FORCE = InForce(prior_calibration(), None)
TUCK = Fate("tuck", 80.0, gutted=True)


def cord(name: str, size_mm: float, **known: object) -> Cord:
    made = Cord(
        name=name,
        material="nylon",
        construction="cored",
        diameter_mm=size_mm,
        pressed_mm=0.55 * size_mm,
        linear_density_g_per_m=0.45 * size_mm**2,
        price_per_m=0.2,
    )
    return replace(made, **known)  # type: ignore[arg-type]


CORDS = {one.name: one for one in (cord("Ridge 4 mm", 4.0), cord("Fell 3 mm", 3.0), cord("Beck 2.5 mm", 2.5))}


def laid(role: Role, cord_name: str, drops: dict[float, int], fate: Fate = TUCK) -> Layer:
    """A layer of one cord by its counts at places in mm."""
    steps = tuple(Step(Place(at, at), (exactly(count),)) for at, count in drops.items())
    return Layer(role=role, cords=(LayerCord(cord_name),), schedule=StrandSchedule(steps), fate=fate)


def finished(
    whip: Whip, cords: dict[str, Cord] | None = None, stock_m: dict[str, float] | None = None
) -> Plan:
    """The plan of a whip with its layers, towards an even taper from 18 to 6 mm."""
    cords = CORDS if cords is None else cords
    length = whip.thong_length_mm or 0.0
    target = Target(diameter_mm=np.sqrt(np.linspace(18.0**2, 6.0**2, round(length / 10) + 1)))
    asked = Asked(length_mm=length, layers=whip.layers, target=target, cords=cords)
    return finish(IN_FORCE, replace(whip, layers_complete=True), asked, cords, stock_m=stock_m)


STOCK = Whip(
    label="2026-031",
    maker="Orrin",
    type="stock whip",
    status="planned",
    datum="handle end",
    thong_length_mm=1680.0,
    handle_length_mm=460.0,
    layers=(
        laid("core", "Beck 2.5 mm", {0: 4, 340: 3, 460: 2, 590: 1, 670: 0}, Fate("cut")),
        laid("belly", "Beck 2.5 mm", {0: 12, 350: 10, 480: 8, 610: 6, 730: 4, 920: 0}),
        laid("overlay", "Beck 2.5 mm", {0: 18, 530: 16, 1000: 14, 1080: 12, 1160: 10, 1240: 8, 1320: 6}),
    ),
)
BULL = Whip(
    label="2026-032",
    maker="Tamsin",
    type="bullwhip",
    status="planned",
    datum="handle end",
    thong_length_mm=1830.0,
    handle_length_mm=205.0,
    handle_diameter_mm=22.0,
    quoted_length="7 ft over the handle",
    foundation=Foundation(diameter_mm=8.0, material="steel rod"),
    layers=(
        laid("core", "Ridge 4 mm", {k * 60.0: 14 - k for k in range(15)}, Fate("cut")),
        laid("belly", "Ridge 4 mm", {0: 10, 130: 8, 370: 6, 470: 4, 980: 0}),
        Layer(role="binding", what="artificial sinew", thickness_mm=0.3, from_mm=0.0, to_mm=760.0),
        laid(
            "overlay", "Fell 3 mm", {0: 24, 280: 22, 570: 20, 650: 18, 1030: 16, 1110: 14, 1190: 12, 1350: 8}
        ),
    ),
)
