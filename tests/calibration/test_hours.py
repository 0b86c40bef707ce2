"""Hours of work: the truth of simulated workshops is recovered, and what is not known widens the interval."""

import math
from dataclasses import replace

import numpy as np
import pytest

from plaitlog.models.calibration.hours import Pace, learn_pace, work_of
from plaitlog.models.geometry import CONSTANTS, flat_width_mm
from plaitlog.models.whip import (
    Cord,
    Fate,
    Foundation,
    Layer,
    LayerCord,
    Place,
    Step,
    StrandSchedule,
    Whip,
    exactly,
)

RIDGE = Cord(name="Ridge 4 mm", construction="cored", material="nylon", diameter_mm=4.0)
CORDS = {RIDGE.name: RIDGE}
PACES = {"Orrin": 1.4, "Tamsin": 0.8}
DAY_SD = 0.12


def layer(role: str, *steps: tuple[float, int]) -> Layer:
    schedule = StrandSchedule(
        tuple(Step(Place(at, at), (exactly(count),)) for at, count in steps), rest="point"
    )
    return Layer(role=role, cords=(LayerCord(RIDGE.name),), schedule=schedule, fate=Fate("cut"))  # type: ignore[arg-type]


def whip(length: float, strands: int, maker: str | None = "Orrin", hours: float | None = None) -> Whip:
    layers = (
        layer("core", (0, 4), (length / 3, 2), (length / 2, 0)),
        layer("belly", (0, 8), (length * 0.6, 0)),
        layer("overlay", (0, strands), (length / 2, strands - 2), (length * 0.8, 8)),
    )
    return Whip(
        label=f"{maker} {length} {strands}",
        maker=maker,
        status="finished",
        datum="handle end",
        thong_length_mm=length,
        handle_length_mm=200,
        foundation=Foundation(diameter_mm=8.0),
        layers=layers,
        hours=hours,
    )


def workshop(rng: np.random.Generator, count: int, makers: tuple[str, ...]) -> list[Whip]:
    """Hours that know nothing of the seconds of the model: a fixed part, and so much a metre of strand."""
    found = []
    for k in range(count):
        length, strands = float(rng.uniform(900, 2500)), int(rng.choice([12, 16, 20]))
        maker = makers[k % len(makers)]
        metres = length / 1000 * (strands * 0.9 + 6)
        hours = PACES[maker] * (2.5 + 0.22 * metres) * math.exp(DAY_SD * rng.normal())
        found.append(whip(length, strands, maker, round(hours * 2) / 2))
    return found


def held(pace: Pace, later: list[Whip]) -> list[bool]:
    found = []
    for one in later:
        expected = pace.expected(replace(one, hours=None, status="planned"), CORDS)
        assert expected is not None
        assert one.hours is not None
        found.append(expected.hours.low_90 <= one.hours <= expected.hours.high_90)
    return found


def test_nine_of_ten_new_whips_of_two_makers_lie_in_their_intervals() -> None:
    shares, off = [], []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        pace = learn_pace(workshop(rng, 24, ("Orrin", "Tamsin")), CORDS)
        later = workshop(rng, 40, ("Orrin", "Tamsin"))
        shares += held(pace, later)
        ratio = [pace.expected(whip(1500, 16, maker), CORDS) for maker in PACES]
        assert ratio[0] is not None
        assert ratio[1] is not None
        off.append(math.log(ratio[0].hours.value / ratio[1].hours.value) - math.log(1.4 / 0.8))
        assert (ratio[0].whips, ratio[0].of_maker) == (24, 12)
    assert 0.86 <= np.mean(shares) <= 0.95
    assert np.sqrt(np.mean(np.square(off))) < 0.08


def test_a_new_hand_is_less_sure_than_a_known_one_and_surer_than_a_guess() -> None:
    pace = learn_pace(workshop(np.random.default_rng(1), 24, ("Orrin", "Tamsin")), CORDS)

    def width(known: Pace, maker: str) -> float:
        found = known.expected(whip(1500, 16, maker), CORDS)
        assert found is not None
        return math.log(found.hours.high_90 / found.hours.low_90)

    assert width(pace, "Orrin") < 0.6 * width(pace, "Brannoc")
    assert width(pace, "Brannoc") < width(learn_pace([], CORDS), "Brannoc")


def test_without_recorded_hours_a_guess_that_is_wide() -> None:
    found = learn_pace([], CORDS).expected(whip(1800, 16), CORDS)
    assert found is not None
    assert (found.whips, found.of_maker) == (0, 0)
    # Makers' common word is one to two days for a six-foot whip (common practice, no source).
    assert 8 < found.hours.value < 25
    assert found.hours.high_90 / found.hours.low_90 > 4


def test_one_whip_moves_the_next_towards_it_and_leaves_it_uncertain() -> None:
    guess = learn_pace([], CORDS).expected(whip(1500, 16), CORDS)
    assert guess is not None
    taken = guess.hours.value / 2
    found = learn_pace([whip(1500, 16, hours=taken)], CORDS).expected(whip(1500, 16), CORDS)
    assert found is not None
    assert taken < found.hours.value < 0.7 * guess.hours.value
    assert found.hours.low_90 < taken < found.hours.high_90
    assert found.hours.high_90 / found.hours.low_90 < guess.hours.high_90 / guess.hours.low_90
    assert (found.whips, found.of_maker) == (1, 1)


def test_hours_with_a_slip_of_the_pen_move_little() -> None:
    known = workshop(np.random.default_rng(3), 20, ("Orrin",))
    slipped = [replace(known[0], hours=(known[0].hours or 0) * 10), *known[1:]]
    asked = whip(1500, 16)
    sound, found = (learn_pace(one, CORDS).expected(asked, CORDS) for one in (known, slipped))
    assert sound is not None
    assert found is not None
    assert found.hours.value == pytest.approx(sound.hours.value, rel=0.06)
    assert found.hours.high_90 / found.hours.low_90 < 2 * sound.hours.high_90 / sound.hours.low_90


def test_work_is_that_of_moves_counted_one_by_one() -> None:
    """A plait alone: strands at the plait angle that just close the surface, moved one after another."""
    bare = replace(whip(1000, 16), layers=(layer("overlay", (0, 16)),), foundation=None, handle_length_mm=0)
    diameter = 16 * flat_width_mm(RIDGE) / (2 * math.pi * math.cos(math.radians(CONSTANTS.angle_deg)))
    turn = math.pi * diameter / math.tan(math.radians(CONSTANTS.angle_deg))
    along, moves = 0.0, 0
    while along < 1000:
        along, moves = along + turn / 16, moves + 1
    work = work_of(bare, CORDS)
    assert work is not None
    assert work.hours * (1 - work.beside) == pytest.approx(moves * (10 + 3 * 8) / 3600, rel=0.01)


def test_more_layers_more_strands_and_more_length_are_more_work() -> None:
    base, longer, finer = (work_of(one, CORDS) for one in (whip(1500, 16), whip(1800, 16), whip(1500, 20)))
    assert base is not None
    assert longer is not None
    assert finer is not None
    assert base.hours < longer.hours
    assert base.hours < finer.hours


def test_of_layers_that_are_not_known_no_hours_are_told_or_learnt() -> None:
    sound = whip(1500, 16, hours=8)
    open_end = replace(sound.layers[2], schedule=replace(sound.layers[2].schedule, rest="not noted"))  # type: ignore[type-var]
    unknown = [
        replace(sound, layers=(*sound.layers[:2], open_end)),
        replace(sound, layers=(replace(sound.layers[0], schedule=None), *sound.layers[1:])),
        replace(sound, layers_complete=False),
        replace(sound, thong_length_mm=None),
        replace(sound, layers=()),
    ]
    pace = learn_pace([sound], CORDS)
    assert [pace.expected(one, CORDS) for one in unknown] == [None] * 5
    assert work_of(sound, {}) is None
    assert learn_pace([*unknown, replace(sound, type="test plait")], CORDS).of_maker == {}
