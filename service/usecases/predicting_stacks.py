"""Predictions for a stack typed on one line, for a number of strands that is asked for, for a known whip.

Each question is answered by the fit in force; nothing here writes.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from plaitlog.models.calibration.prediction import Interval, Prediction, Query
from plaitlog.models.calibration.remarks import HIGH_COVER, LOW_COVER
from plaitlog.models.errors import Finding, InputError, NotFoundError, StackNotKnownError
from plaitlog.models.notation import parse_stack
from plaitlog.models.stack import PLAITED, Stack, StackLayer, StrandGroup, stack_at
from plaitlog.models.whip import Cord, Reading, Whip, exactly, pattern_sum
from plaitlog.service.usecases.names import cord_meant
from plaitlog.service.usecases.observing import is_inner
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.predicting_lines import prediction_json
from plaitlog.service.usecases.slots import slots_of
from plaitlog.service.usecases.weighing import Expected, expected_or_none

COUNTS: Final = range(4, 42, 2)
STATIONS: Final = 9
"""Stations of a whip on which nothing was measured: this many, evenly from end to end."""


def typed_stack(
    text: str, cords: Mapping[str, Cord], letters: Mapping[str, str], only: str | None = None
) -> Stack:
    """The stack that a line of notation states; ``letters`` name the cords, ``only`` the single one.

    Raises
    ------
    InputError
        Where the line cannot be read, or it does not say which cord is meant.
    """
    named = {letter.upper(): cord_meant(name, cords) for letter, name in letters.items()}
    typed = parse_stack(text, letters={letter: cord.name for letter, cord in named.items()})
    single = None if only is None else cord_meant(only, cords)
    if single is None and len(cords) == 1:
        single = next(iter(cords.values()))
    layers: list[StackLayer] = []
    for layer, slot in zip(typed.layers, slots_of([x.role for x in typed.layers]), strict=True):
        groups = tuple(
            StrandGroup(_cord_of(letter, named, single), count, layer.gutted)
            for letter, count in layer.counts
        )
        layers.append(
            StackLayer(
                role=layer.role,
                groups=groups,
                diameter_mm=layer.diameter_mm,
                thickness_mm=layer.thickness_mm,
                pattern=layer.pattern,
                turn_mm=layer.turn_mm,
                slot=slot,
            )
        )
    return Stack(tuple(layers), typed.foundation_mm)


def is_inner_stack(stack: Stack) -> bool:
    """A stack that ends below the overlay is measured before it is covered."""
    return bool(stack.layers) and stack.layers[-1].role != "overlay"


def stack_findings(stack: Stack) -> tuple[Finding, ...]:
    """What a hand would not do: an odd count in a plait, a pattern that does not add up to half of it."""
    found = []
    for place, layer in enumerate(stack.layers, start=1):
        count = layer.count
        if layer.role not in PLAITED or not count.exact:
            continue
        if count.low % 2:
            text = f"{count.low:g} strands in a plait are odd"
            found.append(Finding("odd-count", text, "strands go in pairs", f"layer {place}"))
        whole = None if layer.pattern is None else pattern_sum(layer.pattern)
        if whole is not None and 2 * whole != count.low:
            text = f"{layer.pattern} adds up to {whole}, half of {count.low:g} is {count.low / 2:g}"
            found.append(Finding("pattern-sum", text, "check count and pattern", f"layer {place}"))
    return tuple(found)


def _cord_of(letter: str, named: Mapping[str, Cord], single: Cord | None) -> Cord:
    if letter in named:
        return named[letter]
    if letter == "" and single is not None:
        return single
    if letter == "" and len(named) == 1:
        return next(iter(named.values()))
    what = f"the letter {letter} names no cord" if letter else "it is not said which cord is meant"
    example = f'--letter {letter or "A"}="Ridge 4 mm"' + ("" if letter else ", or --cord with a single one")
    raise InputError(Finding("cord-missing", what, f"add {example}"))


@dataclass(frozen=True, slots=True)
class CountLine:
    """One row of the answer to "how many strands": a count, its pattern and what it comes out at."""

    count: int
    pattern: str
    prediction: Prediction

    def off_mm(self, wanted_mm: float) -> float:
        return self.prediction.diameter_mm - wanted_mm

    @property
    def lies_well(self) -> bool:
        """Whether the strands cover without bunching."""
        return lies_well(self.prediction.cover)


def lies_well(cover: float | None) -> bool:
    """Whether strands cover like that without bunching; None: nothing is plaited."""
    return cover is None or LOW_COVER <= cover <= HIGH_COVER


def cover_text(prediction: Prediction) -> str:
    """The cover, with a word where the strands cannot lie like that."""
    cover = prediction.cover
    if cover is None:
        return ""
    return f"{cover:.2f}{' gaps show' if cover < LOW_COVER else ' bunches' if cover > HIGH_COVER else ''}"


def strands_for(
    in_force: InForce,
    cord: Cord,
    wanted_mm: float,
    *,
    over_mm: float | None = None,
    maker: str | None = None,
    condition: str | None = None,
    interval: Interval = "reading",
) -> list[CountLine]:
    """A single plait of every even count over a body of ``over_mm`` (None: over nothing), nearest first."""
    queries = [
        Query(
            stack=Stack(
                (StackLayer(role="overlay", groups=(StrandGroup(cord, exactly(count)),), slot=4),),
                over_mm or 0.0,
            ),
            maker=maker,
            condition=condition,
        )
        for count in COUNTS
    ]
    lines = [
        CountLine(count, usual_pattern(count), prediction)
        for count, prediction in zip(COUNTS, in_force.predict(queries, interval), strict=True)
    ]
    return sorted(lines, key=lambda line: abs(line.off_mm(wanted_mm)))


def usual_pattern(count: int) -> str:
    """The regular pattern that goes with an even count: 16 u2o2u2o2, 12 u3o3, 6 u1o2 (common practice)."""
    half = count // 2
    if half >= 8 and half % 4 == 0:
        return f"u{half // 4}o{half // 4}" * 2
    return f"u{half // 2}o{half - half // 2}"


@dataclass(frozen=True, slots=True)
class StationLine:
    """One station of a whip: what was measured, what the fit makes of it as it was, and in other cords."""

    at_mm: float
    stack: Stack
    measured: tuple[Reading, ...]
    as_was: Prediction
    swapped: Prediction


@dataclass(frozen=True, slots=True)
class LikeWhip:
    """That whip in other cords, station by station; findings say which stations could not be told.

    weighing : its weight, balance point and cord use in the other cords, None where not known well enough.
    """

    label: str
    swaps: Mapping[str, str]
    stations: tuple[StationLine, ...]
    weighing: Expected | None
    findings: tuple[Finding, ...]


def like_whip(
    in_force: InForce,
    whip: Whip,
    cords: Mapping[str, Cord],
    swaps: Mapping[str, str],
    *,
    maker: str | None = None,
    condition: str | None = None,
    interval: Interval = "reading",
) -> LikeWhip:
    """Predict a whip (its readings placed) as if some of its cords had been others.

    Raises
    ------
    InputError
        Where a cord to be swapped is not in the whip.
    StackNotKnownError
        Where no station of the whip is known well enough.
    """
    meant = _meant(whip, cords, swaps)
    other = {**cords, **{old: cords[new] for old, new in meant.items()}}
    # What was measured on the strands of one cord says nothing of another.
    bare = replace(whip, turn_lengths=(), weights=(), balance=None) if meant else whip
    measured: dict[float, list[Reading]] = {}
    for reading in whip.readings:
        if reading.at_mm is not None and not is_inner(whip, reading.after_layer):
            measured.setdefault(reading.at_mm, []).append(reading)
    findings: list[Finding] = []
    known: list[tuple[float, Stack, Stack]] = []
    for at_mm in sorted(measured) or _even_stations(whip):
        try:
            known.append((at_mm, stack_at(whip, at_mm, cords), stack_at(bare, at_mm, other)))
        except StackNotKnownError as error:
            findings.append(error.finding.at(f"at {at_mm:g} mm"))
    if not known:
        raise StackNotKnownError(
            findings[0]
            if findings
            else Finding("no-station", "it has no readings and no thong length", "note either", whip.label)
        )
    asked = [
        Query(stack=stack, maker=maker or whip.maker, condition=condition, at_mm=at_mm)
        for at_mm, *both in known
        for stack in both
    ]
    told = in_force.predict(asked, interval)
    stations = tuple(
        StationLine(at_mm, other_stack, tuple(measured.get(at_mm, ())), told[2 * i], told[2 * i + 1])
        for i, (at_mm, _, other_stack) in enumerate(known)
    )
    return LikeWhip(whip.label, meant, stations, expected_or_none(in_force, bare, other), tuple(findings))


def like_json(told: LikeWhip) -> dict[str, Any]:
    """The answer for a program, without findings; sizes in mm."""
    return {
        "like": told.label,
        "swaps": dict(told.swaps),
        "stations": [
            {
                "at_mm": line.at_mm,
                "measured_mm": [reading.size_mm for reading in line.measured],
                "as_was": prediction_json(line.as_was),
                "swapped": prediction_json(line.swapped),
            }
            for line in told.stations
        ],
        "weighing": None if told.weighing is None else told.weighing.to_json(),
    }


def like_findings(told: LikeWhip) -> list[Finding]:
    """What is worth knowing about it, each thing once."""
    found = {(finding.code, finding.text): finding for finding in told.findings}
    for line in told.stations:
        for finding in line.swapped.findings:
            found.setdefault((finding.code, finding.text), finding)
    return list(found.values())


def _meant(whip: Whip, cords: Mapping[str, Cord], swaps: Mapping[str, str]) -> dict[str, str]:
    inside = {
        cord.cord: cords[cord.cord] for layer in whip.layers for cord in layer.cords if cord.cord in cords
    }
    meant: dict[str, str] = {}
    for old, new in swaps.items():
        try:
            found = cord_meant(old, inside)
        except NotFoundError as error:
            there = ", ".join(inside) or "no known cord"
            raise NotFoundError(
                replace(error.finding, text=f"{old!r} is not in {whip.label}", remedy=f"in it: {there}")
            ) from None
        meant[found.name] = cord_meant(new, cords).name
    return meant


def _even_stations(whip: Whip) -> Sequence[float]:
    point = whip.point_mm
    if point is None:
        return ()
    return [point * i / (STATIONS - 1) for i in range(STATIONS)]
