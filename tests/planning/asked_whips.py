"""A workshop with one recorded whip, and plans asked for in it."""

from typing import Any

from plaitlog.models.whip import (
    Fate,
    Layer,
    LayerCord,
    Place,
    Reading,
    Step,
    StrandSchedule,
    Whip,
    exactly,
)
from plaitlog.service.schemas.plan_spec import spec_from
from plaitlog.service.usecases.planning.asking import Order, asked_of
from tests.planning.by_geometry import CORDS

OVERLAY = {"role": "overlay", "cord": "Beck 2.5 mm"}
CORE = {"role": "core", "cord": "Ridge 4 mm"}
BINDING = {"role": "binding", "thickness": "0.2 mm"}
TWO = [{"cord": "Beck 2.5 mm", "share": 7}, {"cord": "Ridge 4 mm", "share": 5}]
STOCK = {"pattern": "stock whip", "thong_length": "5' 6\"", "layers": [OVERLAY]}
TAPER = {"taper": "even", "thick_end": "14 mm", "point": "5.5 mm"}


def layer(role: Any, cord: str, *steps: tuple[float, int], fate: Fate | None = None) -> Layer:
    schedule = StrandSchedule(tuple(Step(Place(at, at), (exactly(n),)) for at, n in steps))
    return Layer(role=role, cords=(LayerCord(cord),), schedule=schedule, fate=fate)


FIRST = Whip(
    label="O-7",
    maker="Orrin",
    type="stock whip",
    datum="handle end",
    thong_length_mm=1000.0,
    handle_length_mm=0.0,
    layers=(
        layer("core", "Ridge 4 mm", (0, 4), (200, 3), (400, 0), fate=Fate("cut")),
        Layer(role="binding", thickness_mm=0.2, from_mm=0.0, to_mm=500.0, what="thread"),
        layer("overlay", "Beck 2.5 mm", (0, 16), (600, 12)),
    ),
    readings=tuple(
        Reading(at_mm=at, diameter_mm=mm) for at, mm in ((0, 15.0), (300, 12.0), (500, 12.4), (900, 7.0))
    ),
)


def whip(label: str) -> Whip:
    assert label == FIRST.label
    return FIRST


def asked(**more: Any) -> Order:
    return asked_of(spec_from({**STOCK, **more}), CORDS, whip)
