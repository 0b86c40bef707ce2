"""Turn lengths on a simulated workshop: a measured angle takes the hand's own angle out of the error."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pytest

from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.observations import Observation, Query
from plaitlog.models.calibration.packed import pack
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.resolve import resolve
from plaitlog.models.stack import Stack, stack_at, turns_at
from plaitlog.models.whip import Layer, LayerCord, Place, Step, StrandSchedule, TurnLength, Whip, exactly
from tests.calibration.laid_whips import CORDS

READ_SD = 0.03
STATIONS = (100.0, 400.0, 700.0, 1000.0, 1300.0)
POINT_MM = 1500.0


def layer(role: str, cord: str, *steps: tuple[float, float]) -> Layer:
    laid = tuple(Step(Place(at, at), (exactly(count),)) for at, count in steps)
    return Layer(role=role, cords=(LayerCord(cord),), schedule=StrandSchedule(laid))  # type: ignore[arg-type]


def whip_of(rng: np.random.Generator, label: str) -> Whip:
    core, overlay = rng.choice(list(CORDS), 2)
    return Whip(
        label=label,
        maker="Orrin",
        status="finished",
        datum="handle end",
        thong_length_mm=POINT_MM,
        foundation="none",
        layers=(
            layer("core", core, (0, 5), (600, 3), (900, 1)),
            layer("overlay", overlay, (0, 14), (500, 12), (850, 10), (1150, 8)),
        ),
        layers_complete=True,
    )


def laid_mm(stack: Stack, quirks: Mapping[str, float], angle_deg: float) -> tuple[float, float]:
    """Diameter and the overlay's mean diameter: fibre over packing and cos(angle), nothing of the model."""
    diameter = 0.0
    inside = 0.0
    for each in stack.layers:
        (group,) = each.groups
        weight = group.cord.linear_density_g_per_m
        assert weight is not None
        area = group.count.mid * weight / 1.14 * math.exp(quirks[group.cord.name])
        packing, lying = (0.57, math.cos(math.radians(angle_deg))) if each.role == "overlay" else (0.66, 1.0)
        inside, diameter = diameter, math.sqrt(diameter**2 + 4 / math.pi * area / (packing * lying))
    return diameter, (inside + diameter) / 2


def workshop(count: int, seed: int, angle_sd: float) -> tuple[list[Whip], list[np.ndarray]]:
    """Whips with measured turns, and their diameters at ``STATIONS`` as read with calipers."""
    rng = np.random.default_rng(seed)
    quirks = {name: float(0.06 * rng.normal()) for name in CORDS}
    whips, sizes = [], []
    for number in range(count):
        whip = whip_of(rng, f"whip {number}")
        angle = 36.0 + angle_sd * rng.normal()
        found = [laid_mm(stack_at(whip, at, CORDS), quirks, angle) for at in STATIONS]
        turns = [math.pi * mean / math.tan(math.radians(angle)) for _, mean in found]
        read = np.exp(READ_SD * rng.normal(size=len(turns)))
        noted = zip(STATIONS, turns, read, strict=True)
        whips.append(replace(whip, turn_lengths=tuple(TurnLength(at, x * e) for at, x, e in noted)))
        true = np.array([size for size, _ in found])
        sizes.append(true * np.exp(0.01 * rng.normal() + 0.012 * rng.normal(size=len(true))))
    return whips, sizes


def observed(whips: Sequence[Whip], sizes: Sequence[np.ndarray]) -> list[Observation]:
    return [
        Observation(
            stack=stack_at(whip, at, CORDS), diameter_mm=float(d), whip=whip.label, maker="Orrin", at_mm=at
        )
        for whip, row in zip(whips, sizes, strict=True)
        for at, d in zip(STATIONS, row, strict=True)
    ]


def error_and_width(angle_sd: float, *, turns: bool, seed: int = 7) -> tuple[float, float]:
    """RMSE of log D and mean sd of log D, on thirty whips after a fit to forty others."""
    whips, sizes = workshop(70, seed, angle_sd)
    if not turns:
        whips = [replace(whip, turn_lengths=()) for whip in whips]
    model = DiameterModel().fit(observed(whips[:40], sizes[:40]))
    rest = observed(whips[40:], sizes[40:])
    told = model.predict([Query(stack=x.stack, maker=x.maker, at_mm=x.at_mm) for x in rest])
    miss = [math.log(x.diameter_mm / y.diameter_mm) for x, y in zip(rest, told, strict=True)]
    return float(np.sqrt(np.mean(np.square(miss)))), float(np.mean([x.sd_log for x in told]))


def test_turns_narrow_the_error_where_angles_vary_from_whip_to_whip() -> None:
    with_turns, without = error_and_width(6.0, turns=True), error_and_width(6.0, turns=False)
    assert with_turns[0] < 0.75 * without[0]
    assert with_turns[1] < 0.85 * without[1], "and the interval says so"


def test_turns_do_not_harm_where_every_angle_is_the_same() -> None:
    with_turns, without = error_and_width(0.0, turns=True), error_and_width(0.0, turns=False)
    assert with_turns[0] < 1.1 * without[0]


def test_turns_of_some_whips_do_not_spoil_the_others() -> None:
    """Half of the whips have turns; those without are predicted as well as if none had."""
    whips, sizes = workshop(70, 3, 2.0)
    plain = [replace(whip, turn_lengths=()) for whip in whips]
    mixed = [a if k % 2 else b for k, (a, b) in enumerate(zip(whips, plain, strict=True))]
    rest = observed(plain[40:], sizes[40:])
    errors = []
    for recorded in (mixed, plain):
        model = DiameterModel().fit(observed(recorded[:40], sizes[:40]))
        told = model.predict([Query(stack=x.stack, maker=x.maker, at_mm=x.at_mm) for x in rest])
        miss = [math.log(x.diameter_mm / y.diameter_mm) for x, y in zip(rest, told, strict=True)]
        errors.append(np.sqrt(np.mean(np.square(miss))))
    assert errors[0] < 1.1 * errors[1]


def with_turns(*turns: TurnLength) -> Whip:
    whip = whip_of(np.random.default_rng(0), "w")
    return replace(whip, turn_lengths=turns)


def test_a_turn_holds_between_its_stations_and_for_half_a_turn_beyond() -> None:
    whip = with_turns(TurnLength(300, 60), TurnLength(700, 50), TurnLength(700, 54))
    assert turns_at(whip, 300) == {2: 60}
    assert turns_at(whip, 500) == {2: pytest.approx(56)}
    assert turns_at(whip, 700) == {2: 52}
    assert turns_at(whip, 271) == {2: 60}
    assert turns_at(whip, 725) == {2: 52}
    assert turns_at(whip, 269) == turns_at(whip, 727) == {}


def test_a_turn_belongs_to_the_layer_that_was_outermost() -> None:
    belly = layer("belly", "Fell", (0, 12))
    whip = with_turns(
        TurnLength(300, 60, after_layer=2), TurnLength(300, 80), TurnLength(300, 9, after_layer=1)
    )
    whip = replace(whip, layers=(whip.layers[0], belly, whip.layers[1]))
    assert {x.slot: x.turn_mm for x in stack_at(whip, 300, CORDS).layers} == {1: None, 2: 60, 3: 80}
    assert [x.turn_mm for x in stack_at(whip, 300, CORDS, after_layer=2).layers] == [None, 60]


@pytest.mark.parametrize("angle_deg", [20.0, 35.0, 50.0])
def test_an_even_taper_of_one_angle_keeps_it_between_the_stations(angle_deg: float) -> None:
    """On a straight cone the turn is interpolated so that the angle stays what it is at both ends."""

    def turn(mean_mm: float) -> float:
        return math.pi * mean_mm / math.tan(math.radians(angle_deg))

    whip = with_turns(TurnLength(200, turn(14.0)), TurnLength(1000, turn(8.0)))
    assert turns_at(whip, 600) == {2: pytest.approx(turn(11.0))}


def test_angle_cover_and_path_follow_the_turn() -> None:
    """A shorter turn lies steeper: more cord, a thicker wall, less cover."""
    sizes, covers = [], []
    for turn_mm in (40.0, 90.0):
        stack = stack_at(with_turns(TurnLength(300, turn_mm)), 300, CORDS)
        packed = pack([stack], Parameters().geometry)
        found = resolve(packed, np.zeros(packed.kind.shape), Parameters().geometry)
        sizes.append(float(found.diameter[0]))
        covers.append(float(found.cover[0, -1]))
        (told,) = DiameterModel().fit([]).predict([Query(stack=stack)])
        assert told.cover == pytest.approx(covers[-1], rel=0.1)
    assert sizes[0] > 1.03 * sizes[1]
    assert covers[0] < covers[1]
