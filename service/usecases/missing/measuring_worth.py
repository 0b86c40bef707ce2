"""What one more measurement on a whip would buy: a reading, a rating, a turn length, the weight."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final, Literal

from plaitlog.models.calibration.prediction import Observation, Query
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.geometry import geometric_diameter
from plaitlog.models.stack import PLAITED, Stack, stack_at
from plaitlog.models.units import show_mass
from plaitlog.models.whip import Cord, Reading, Whip
from plaitlog.service.usecases.missing.facts import Measurement
from plaitlog.service.usecases.missing.lacking import RATED, TURN, WEIGHT
from plaitlog.service.usecases.missing.usability import (
    Level,
    TaperQuestions,
    Usability,
    level_of,
    observations,
)
from plaitlog.service.usecases.missing.worth import SEEN_MM, Narrowed, Worth
from plaitlog.service.usecases.places import placed, station_of
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.questions import Questions

Place = Literal["thick", "mid", "point"]
WHERE: Final[Mapping[str, tuple[int, str]]] = {
    "thick": (0, "at the thick end"),
    "mid": (4, "in the middle"),
    "point": (8, "at the point"),
}
"""Eighth of the thong, and words, of the places where a reading is proposed."""
TURN_SPREAD: Final = 0.1
"""How much the turn length of one stack differs from hand to hand (physical reasoning: a tenth)."""


def what_measuring_buys(
    in_force: InForce, whip: Whip, cords: Mapping[str, Cord], usable: Usability
) -> list[Worth]:
    """What each measurement would buy that the whip lacks; none of a test plait but readings."""
    if usable.taper is None:
        return []
    whip = placed(whip)
    found = _readings(in_force, whip, cords, usable)
    level = usable.taper
    if not usable.scores and level != "no" and whip.status != "on the bench":
        found.append(
            Worth(
                (RATED,),
                taper=(level, level),
                handling=(False, True),
            )
        )
    if not whip.turn_lengths:
        found += _turn(in_force, whip, cords, level)
    if not whip.weights:
        found += _weight(whip, cords, level)
    return found


def _readings(in_force: InForce, whip: Whip, cords: Mapping[str, Cord], usable: Usability) -> list[Worth]:
    """One more reading where none is near: the thong predicted from what was read, and from it too.

    The new reading is taken to say what is expected, so that only the certainty differs.
    """
    questions = Questions()
    taken = observations(whip, cords)
    stations = [x.at_mm for x in usable.stations if x.at_mm is not None]
    before = _along(whip, cords, stations, taken, questions)
    read = {x.eighth for x in usable.stations if x.known_from == "readings"}
    wanted = [place for place, (eighth, _) in WHERE.items() if eighth not in read]
    asked: list[tuple[tuple[str, ...], tuple[int, ...], TaperQuestions]] = []
    for places in [(place,) for place in wanted] + ([tuple(wanted)] if len(wanted) > 1 else []):
        more = replace(
            whip,
            readings=(
                *whip.readings,
                *(_as_expected(in_force, whip, cords, place, taken) for place in places),
            ),
        )
        after = _along(whip, cords, stations, observations(more, cords), questions)
        asked.append((places, after, TaperQuestions.of(more, cords, questions, in_force)))
    questions.answer(in_force)
    found: list[Worth] = []
    for places, after, taper in asked:
        mean = None
        if before:
            was, now = (sum(map(questions.half_mm, some)) / len(some) for some in (before, after))
            mean = Narrowed(0.0, was, now)
        level = level_of(taper.stations(questions))
        if len(places) > 1 and any(each.taper[1] == level for each in found):
            continue
        found.append(
            Worth(
                tuple(
                    Measurement(f"reading:{place}", f"one more reading {WHERE[place][1]}") for place in places
                ),
                mean=mean,
                taper=(usable.taper or "no", level),
                handling=(usable.handling, usable.scores > 0 and level != "no"),
            )
        )
    return found


def _named(places: Sequence[str], first: str) -> tuple[Measurement, ...]:
    return tuple(
        Measurement(f"reading:{place}", f"{'one' if number else first} {WHERE[place][1]}")
        for number, place in enumerate(places)
    )


def _as_expected(
    in_force: InForce, whip: Whip, cords: Mapping[str, Cord], place: str, taken: tuple[Observation, ...]
) -> Reading:
    at_mm = station_of(whip, place)
    return Reading(at_mm=at_mm, diameter_mm=_expected(in_force, whip, cords, at_mm, taken), place=place)


def _along(
    whip: Whip,
    cords: Mapping[str, Cord],
    stations: Sequence[float],
    taken: tuple[Observation, ...],
    questions: Questions,
) -> tuple[int, ...]:
    found = []
    for at_mm in stations:
        stack = _stack(whip, cords, at_mm)
        if stack is not None:
            found.append(questions.ask(Query(stack=stack, maker=whip.maker, at_mm=at_mm, readings=taken)))
    return tuple(found)


def _stack(whip: Whip, cords: Mapping[str, Cord], at_mm: float | None) -> Stack | None:
    if at_mm is None:
        return None
    try:
        return stack_at(whip, at_mm, cords)
    except StackNotKnownError:
        return None


def _expected(
    in_force: InForce,
    whip: Whip,
    cords: Mapping[str, Cord],
    at_mm: float | None,
    taken: tuple[Observation, ...],
) -> float:
    stack = _stack(whip, cords, at_mm)
    if stack is not None:
        query = Query(stack=stack, maker=whip.maker, at_mm=at_mm, readings=taken)
        return in_force.predict([query])[0].diameter_mm
    # No stack is known: only the caliper's share of the certainty rests on the size, any near one will do.
    near = [(abs((x.at_mm or 0.0) - (at_mm or 0.0)), x.size_mm) for x in whip.readings]
    return min(near, default=(0.0, 10.0))[1]


def _turn(in_force: InForce, whip: Whip, cords: Mapping[str, Cord], level: Level) -> list[Worth]:
    """A turn length of the outermost plait in the middle: it sets the angle there."""
    at_mm = station_of(whip, "mid")
    stack = _stack(whip, cords, at_mm)
    if stack is None or at_mm is None or not stack.layers or stack.layers[-1].role not in PLAITED:
        return []
    outer = geometric_diameter(stack).layers[-1]
    if outer.cos_angle is None or not 0 < outer.cos_angle < 1:
        return []
    turn_mm = math.pi * outer.mean_mm / math.tan(math.acos(outer.cos_angle))
    factors = (1 - TURN_SPREAD, 1.0, 1 + TURN_SPREAD)
    stacks = [stack] + [
        Stack((*stack.layers[:-1], replace(stack.layers[-1], turn_mm=turn_mm * x)), stack.foundation_mm)
        for x in factors
    ]
    told = in_force.predict([Query(stack=x, maker=whip.maker, at_mm=at_mm) for x in stacks])
    before, low, middle, high = told
    moved = Narrowed(
        at_mm,
        (before.high_90_mm - before.low_90_mm) / 2,
        (middle.high_90_mm - middle.low_90_mm) / 2,
        abs(high.diameter_mm - low.diameter_mm) / 2,
    )
    if max(moved.gained_mm, moved.shift_mm) < SEEN_MM:
        return []
    return [
        Worth(
            (TURN,),
            places=(moved,),
            taper=(level, level),
            thong_share=0.0,
            told="it sets the angle of its plait, in a fit and in a prediction",
        )
    ]


def _weight(whip: Whip, cords: Mapping[str, Cord], level: Level) -> list[Worth]:
    """The weight: nothing rests on it yet, but geometry says what the strands should come to."""
    start, point = station_of(whip, "thick"), whip.point_mm
    if start is None or point is None:
        return []
    steps = 16
    stations = [start + (point - start) * (2 * k + 1) / (2 * steps) for k in range(steps)]
    stacks = [x for at in stations if (x := _stack(whip, cords, at)) is not None]
    if len(stacks) < steps:
        return []
    per_m = sum(geometric_diameter(x).mass_g_per_m for x in stacks) / steps
    grams = per_m * (point - start) / 1000
    return [
        Worth(
            (WEIGHT,),
            taper=(level, level),
            thong_share=0.0,
            told=f"narrows no diameter; geometry puts the thong's strands at about {show_mass(grams)}",
        )
    ]
