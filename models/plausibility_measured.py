"""What was measured and judged on a whip: readings, turn lengths, weights, ratings."""

import datetime as dt
import math
from collections.abc import Iterator
from itertools import groupby, pairwise
from typing import Final

from plaitlog.models.errors import Finding
from plaitlog.models.plausibility_values import not_in_future, positive, sized
from plaitlog.models.units import DIAMETER, GIRTH, LENGTH, MASS, THICKNESS
from plaitlog.models.whip import (
    COMPARISONS,
    FEELS,
    NOT_TRIED,
    QUALITIES,
    Layer,
    RatingSession,
    Reading,
    Whip,
)

# Common practice and own measure, no source.
NEAR_DROP_MM: Final = 20.0
USUAL_READING_MM: Final = (2.5, 45.0)
USUAL_WEIGHT_G: Final = (40.0, 2500.0)
USUAL_TURN_MM: Final = (8.0, 400.0)
REPEATS_DIFFER: Final = 0.15
"""Share by which two readings at one station may differ before one of them looks mistyped."""


def measured_refusals(whip: Whip, today: dt.date | None) -> Iterator[Finding]:
    """Everything measured on a whip that cannot be taken."""
    for number, reading in enumerate(whip.readings, start=1):
        where = f"readings {number}"
        yield from _size_refusals(reading, where)
        yield from _station_refusals(whip, reading.at_mm, reading.after_layer, where)
        yield from not_in_future(reading.on, today, f"{where}, on")
    for number, turn in enumerate(whip.turn_lengths, start=1):
        where = f"turn_lengths {number}"
        yield from positive(turn.turn_mm, f"{where}, turn_mm", LENGTH)
        yield from _station_refusals(whip, turn.at_mm, turn.after_layer, where)
    for number, weight in enumerate(whip.weights, start=1):
        yield from sized(weight.weight_g, MASS, f"weights {number}, weight_g")
        yield from _layer_number(whip, weight.after_layer, f"weights {number}")
    if whip.balance is not None:
        yield from sized(whip.balance.at_mm, LENGTH, "balance, at_mm")


def _size_refusals(reading: Reading, where: str) -> Iterator[Finding]:
    yield from sized(reading.diameter_mm, DIAMETER, f"{where}, diameter_mm")
    yield from sized(reading.girth_mm, GIRTH, f"{where}, girth_mm")
    yield from positive(reading.tape_mm, f"{where}, tape_mm", THICKNESS, zero=True)
    if reading.diameter_mm is None and reading.girth_mm is None:
        yield Finding("size-missing", "the reading has no size", "give diameter_mm or girth_mm", where)
    elif reading.diameter_mm is not None and reading.girth_mm is not None:
        yield Finding(
            "size-twice", "the reading has a diameter and a girth", "keep the one that was read", where
        )
    elif reading.girth_mm is not None and math.isfinite(reading.girth_mm) and reading.size_mm <= 0:
        yield Finding(
            "girth-small",
            "the girth is less than the tape leaves room for",
            "check both",
            f"{where}, tape_mm",
        )
    if reading.at_mm is None and reading.place is None:
        yield Finding("place-missing", "the reading has no place", "give at_mm, or thick, mid or p", where)


def _station_refusals(
    whip: Whip, at_mm: float | None, after_layer: int | None, where: str
) -> Iterator[Finding]:
    numbered = list(_layer_number(whip, after_layer, where))
    yield from numbered
    if at_mm is None:
        return
    bad = list(sized(at_mm, LENGTH, f"{where}, at_mm"))
    yield from bad
    if bad:
        return
    point = whip.point_mm
    if point is not None and at_mm > point:
        yield Finding(
            "past-point",
            f"{at_mm:g} mm lies past the point at {point:g} mm",
            "check the station, the thong length and where stations are counted from",
            f"{where}, at_mm",
        )
    elif after_layer is not None and not numbered and runs_at(whip.layers[after_layer - 1], at_mm) is False:
        role = whip.layers[after_layer - 1].role
        yield Finding(
            "layer-absent",
            f"layer {after_layer} ({role}) does not run at {at_mm:g} mm",
            "check the station, or count the layers from the innermost, 1",
            f"{where}, after_layer",
        )


def _layer_number(whip: Whip, after_layer: int | None, where: str) -> Iterator[Finding]:
    if after_layer is not None and not 1 <= after_layer <= len(whip.layers):
        listed = f"{len(whip.layers)} layers are listed" if whip.layers else "no layers are listed"
        yield Finding(
            "layer-unknown",
            f"there is no layer {after_layer}: {listed}",
            "count them from the innermost, 1"
            if whip.layers
            else "list the layers, or leave after_layer out",
            f"{where}, after_layer",
        )


def runs_at(layer: Layer, at_mm: float) -> bool | None:
    """Whether a layer runs at a station; None where its record does not say."""
    if layer.diameter_mm is not None or layer.thickness_mm is not None:
        begun = layer.from_mm is None or layer.from_mm <= at_mm
        return begun and (layer.to_mm is None or at_mm <= layer.to_mm)
    if layer.schedule is None or not layer.schedule.steps:
        return None
    steps = layer.schedule.steps
    holding = [step for step in steps if step.place.high_mm <= at_mm]
    possible = [step for step in steps if step.place.low_mm <= at_mm < step.place.high_mm]
    return any(step.total.high > 0 for step in (*holding[-1:], *possible))


def measured_findings(whip: Whip) -> Iterator[Finding]:
    """What looks mistyped or was measured where it should not be; expects a whip that is not refused."""
    if whip.status == "planned" and whip.readings:
        yield Finding(
            "planned-measured",
            "a planned whip has readings",
            "set its status, else no fit uses them",
            "status",
        )
    low, high = USUAL_READING_MM
    for number, reading in enumerate(whip.readings, start=1):
        where = f"readings {number}"
        if not low <= reading.size_mm <= high:
            yield Finding(
                "reading-unusual", f"{reading.size_mm:.1f} mm is unusual for a whip", "check it", where
            )
        yield from _near_drop(whip, reading, where)
    yield from _profile_findings(whip)
    for number, turn in enumerate(whip.turn_lengths, start=1):
        if not USUAL_TURN_MM[0] <= turn.turn_mm <= USUAL_TURN_MM[1]:
            text = f"a turn in {turn.turn_mm:g} mm is unusual"
            yield Finding(
                "turn-unusual", text, "measure how far one strand goes for one turn", f"turn_lengths {number}"
            )
    for number, weight in enumerate(whip.weights, start=1):
        if not USUAL_WEIGHT_G[0] <= weight.weight_g <= USUAL_WEIGHT_G[1] and weight.after_layer is None:
            text = f"{weight.weight_g:g} g is unusual for a whip"
            yield Finding("weight-unusual", text, "check number and unit", f"weights {number}")


def _near_drop(whip: Whip, reading: Reading, where: str) -> Iterator[Finding]:
    if reading.at_mm is None:
        return
    for layer in whip.layers[: reading.after_layer]:
        steps = layer.schedule.steps if layer.schedule is not None else ()
        for before, step in pairwise(steps):
            away = abs(reading.at_mm - step.place.low_mm)
            if step.place.kind == "at" and step.counts != before.counts and away < NEAR_DROP_MM:
                yield Finding(
                    "near-drop",
                    f"it lies {away:.0f} mm from a drop in the {layer.role} at {step.place.low_mm:g} mm",
                    f"measure {NEAR_DROP_MM:.0f} mm away from drops",
                    where,
                )
                return


def _profile_findings(whip: Whip) -> Iterator[Finding]:
    """Readings of one state that disagree with each other, or a finished thong thickest at the point."""
    known = [(n, r, r.at_mm) for n, r in enumerate(whip.readings, start=1) if r.at_mm is not None]
    known.sort(key=lambda each: (each[1].after_layer or 0, each[2], each[0]))
    for _, group in groupby(known, key=lambda each: (each[1].after_layer, each[1].condition, each[2])):
        repeats = list(group)
        sizes = [reading.size_mm for _, reading, _ in repeats]
        if max(sizes) > (1 + REPEATS_DIFFER) * min(sizes):
            text = f"repeats at one station run from {min(sizes):.1f} to {max(sizes):.1f} mm"
            yield Finding("repeats-differ", text, "check for a mistyped one", f"readings {repeats[-1][0]}")
    finished = [(at, reading.size_mm) for _, reading, at in known if reading.after_layer is None]
    if (
        finished
        and finished[-1][0] > finished[0][0]
        and finished[-1][1] > (1 + REPEATS_DIFFER) * finished[0][1]
    ):
        (at, size), (last_at, last_size) = finished[0], finished[-1]
        yield Finding(
            "taper-reversed",
            f"the thong gets thicker: {size:.1f} mm at {at:g} mm, {last_size:.1f} mm at {last_at:g} mm",
            "check the order, and which end stations are counted from",
            "readings",
        )


def session_refusals(session: RatingSession, today: dt.date | None) -> Iterator[Finding]:
    """Everything in a rating session that cannot be taken."""
    yield from not_in_future(session.on, today, "on")
    yield from positive(session.hours_of_use, "hours_of_use", zero=True)
    for quality, score in session.scores.items():
        if quality not in QUALITIES:
            yield Finding(
                "quality-unknown", f"{quality!r} is no quality", f"rate {', '.join(QUALITIES)}", "scores"
            )
        elif score in COMPARISONS:
            if session.compared_with is None:
                yield Finding(
                    "compared-with-nothing",
                    f"{score!r} needs another whip that it is {score} than"
                    if score != "same"
                    else "'same' needs another whip that it is the same as",
                    "give compared_with, the label of the whip it was thrown beside, with a rating session;"
                    " or rate 1 to 10",
                    f"scores, {quality}",
                )
        elif score != NOT_TRIED and not (isinstance(score, int | float) and 1 <= score <= 10):
            yield Finding(
                "score",
                f"{score} is no rating",
                f'rate 1 to 10, or write "{NOT_TRIED}"',
                f"scores, {quality}",
            )
    for feel, value in session.feel.items():
        if feel not in FEELS:
            yield Finding("feel-unknown", f"{feel!r} is no note on feel", f"note {', '.join(FEELS)}", "feel")
        elif not -2 <= value <= 2:
            yield Finding(
                "feel", f"{value} lies outside -2 to +2", "note -2 to +2, 0 in the middle", f"feel, {feel}"
            )


def session_findings(session: RatingSession, made_on: dt.date | None = None) -> Iterator[Finding]:
    """What looks like a slip in a rating session."""
    if session.on is not None and made_on is not None and session.on < made_on:
        yield Finding(
            "rated-early", f"rated on {session.on}, before the whip was made", "check both dates", "on"
        )
    if session.hours_of_use is not None and session.hours_of_use > 5000:
        yield Finding(
            "hours-unusual", f"{session.hours_of_use:g} hours of use are unusual", "check it", "hours_of_use"
        )
