"""A sound whip and its cords, to be spoilt by the tests."""

import datetime as dt

import pytest

from plaitlog.models.errors import RecordError
from plaitlog.models.notation import parse_fate, parse_schedule
from plaitlog.models.plausibility import check_whip
from plaitlog.models.whip import (
    Balance,
    Cord,
    CordUse,
    Foundation,
    Layer,
    LayerCord,
    Place,
    RatingSession,
    Reading,
    Role,
    Step,
    StrandSchedule,
    TurnLength,
    Weight,
    Whip,
    exactly,
)

TODAY = dt.date(2026, 11, 25)
RIDGE = Cord(
    name="Ridge 4 mm",
    material="nylon",
    construction="cored",
    diameter_mm=4.0,
    pressed_mm=2.1,
    flat_width_mm=4.4,
    linear_density_g_per_m=7.2,
)
FELL = Cord(name="Fell 3 mm", material="nylon", construction="cored")
CORDS = {cord.name: cord for cord in (RIDGE, FELL)}
LETTERS = {"A": "Ridge 4 mm", "B": "Fell 3 mm"}


def layer(role: Role, line: str, fate: str | None = None) -> Layer:
    read = parse_schedule(line, letters=LETTERS, point_mm=1830)
    return Layer(
        role=role, cords=read.cords, schedule=read.schedule, fate=parse_fate(fate) if fate else read.fate
    )


WHIP = Whip(
    label="2026-014",
    maker="Orrin",
    type="bullwhip",
    status="finished",
    made_on=dt.date(2026, 3, 2),
    build_number=37,
    datum="handle end",
    thong_length_mm=1830,
    handle_length_mm=200,
    handle_diameter_mm=22,
    foundation=Foundation(diameter_mm=8, to_mm=0, material="steel"),
    layers=(
        layer("core", "mm: 6A; 300: -1; 380: -1; 460: -1; 540: -1; 700: end cut"),
        layer("belly", "mm: 12A; 700: -2; 1000: -2; 1140: end", "tuck 80 mm gut"),
        Layer(role="binding", thickness_mm=0.2, from_mm=0, to_mm=1200, what="thread"),
        layer("overlay", "mm: 8A+8B u2o2u2o2; 900: -2A -2B u3o3; 1500: -4 u2o2 run; p"),
    ),
    readings=(
        Reading(at_mm=0, diameter_mm=22.3),
        Reading(at_mm=150, diameter_mm=17.9, after_layer=2, condition="fresh"),
        Reading(at_mm=600, girth_mm=47.5, tape_mm=0.3),
    ),
    turn_lengths=(TurnLength(300, 62),),
    weights=(Weight(412, ("fall", "cracker")),),
    balance=Balance(450),
    hours=11.5,
    cord_used=(CordUse("Ridge 4 mm", 38),),
    ratings=(
        RatingSession(
            by="Orrin",
            on=dt.date(2026, 3, 9),
            scores={"ease": 7, "volley": "not tried"},
            feel={"thong_handle": 1},
        ),
    ),
)


def refusals(whip: Whip) -> list[tuple[str, str]]:
    with pytest.raises(RecordError) as caught:
        check_whip(whip, CORDS, today=TODAY)
    assert all(finding.text and finding.remedy for finding in caught.value.findings)
    return [(finding.where, finding.code) for finding in caught.value.findings]


def findings(whip: Whip) -> list[tuple[str, str]]:
    return [(finding.where, finding.code) for finding in check_whip(whip, CORDS, today=TODAY)]


def steps(*rows: tuple[float, float]) -> StrandSchedule:
    return StrandSchedule(tuple(Step(Place(at, at), (exactly(count),)) for at, count in rows))


def plain(role: Role, *rows: tuple[float, float]) -> Layer:
    return Layer(role=role, cords=(LayerCord("Ridge 4 mm"),), schedule=steps(*rows))
