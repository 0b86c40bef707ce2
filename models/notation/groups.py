"""Steps of a strand schedule gathered for print and speech: a change repeated evenly is one group."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from plaitlog.models.notation.place import Where, about, about_text
from plaitlog.models.notation.schedule import drops
from plaitlog.models.notation.text import DECIMALS, print_number, read_number
from plaitlog.models.units import LengthUnit
from plaitlog.models.whip import Fate, Place, Span, Step

UNEVEN_MM: Final = 0.001
"""Far more than places that are read back the same, to 1e-9 mm, can be from even."""


@dataclass(frozen=True, slots=True)
class StepGroup:
    """One change, made once or ``times`` times every ``spacing`` (text in the unit of the line).

    ``deltas``: strands per cord, None where the counts are better set than changed. ``counts`` and
    ``pattern`` are those after the last of them; ``fate`` that of the strands dropped (None: not noted).
    """

    place: Place
    first: tuple[Span, ...]
    counts: tuple[Span, ...]
    deltas: tuple[int, ...] | None
    drops: bool
    fate: Fate | None
    pattern: str | None
    spacing: str | None = None
    times: int = 1


def step_groups(steps: Sequence[Step], unit: LengthUnit, fate: Fate | None) -> list[StepGroup]:
    """All steps after the first, gathered; ``fate`` is the layer's, for steps without their own."""
    groups: list[StepGroup] = []
    number = 1
    while number < len(steps):
        run = _run_from(steps, number, fate)
        spacing = None
        while len(run) > 2 and (spacing := _spacing([step.place for step in run], unit)) is None:
            run = run[:-1]
        if spacing is None:
            run = run[:1]
        groups.append(
            StepGroup(
                run[0].place,
                run[0].counts,
                run[-1].counts,
                _deltas(steps[number - 1], run[0]),
                drops(steps, number),
                (run[0].fate or fate) if drops(steps, number) else None,
                run[-1].pattern,
                spacing,
                len(run),
            )
        )
        number += len(run)
    return groups


def _run_from(steps: Sequence[Step], number: int, fate: Fate | None) -> list[Step]:
    """The step and those after it that repeat it, wherever they lie."""
    run = [steps[number]]
    deltas = _deltas(steps[number - 1], run[0])
    if deltas is None or not any(deltas):
        return run
    while number + len(run) < len(steps):
        following = steps[number + len(run)]
        alike = (
            following.place.kind == run[0].place.kind != "not noted"
            and run[-1].pattern is None
            and _deltas(run[-1], following) == deltas
            and (following.fate or fate) == (run[0].fate or fate)
        )
        if not alike:
            break
        run.append(following)
    return run


def _deltas(before: Step, after: Step) -> tuple[int, ...] | None:
    """Strands added per cord; None where no whole number of strands says it."""
    found = []
    for was, now in zip(before.counts, after.counts, strict=True):
        delta = now.low - was.low
        if delta != now.high - was.high or not float(delta).is_integer():
            return None
        found.append(int(delta))
    return tuple(found)


def _spacing(places: Sequence[Place], unit: LengthUnit) -> str | None:
    """The distance between neighbours as text, if from the first place it gives all the others."""
    mean = (places[-1].low_mm - places[0].low_mm) / (len(places) - 1)
    # Most runs are not even at all, which is seen at once; what follows takes a thousand times as long.
    if any(abs(one.low_mm - places[0].low_mm - mean * n) > UNEVEN_MM for n, one in enumerate(places)):
        return None
    first = _where(places[0], unit)
    for digits in range(7):
        text = print_number(round(mean, digits), unit)
        distance = read_number(text, unit)
        if distance and all(
            _same(first.moved(distance * n).place(), place) for n, place in enumerate(places)
        ):
            return text
    return None


def _same(one: Place, other: Place) -> bool:
    pairs = ((one.low_mm, other.low_mm), (one.high_mm, other.high_mm))
    return all(round(x, DECIMALS) == round(y, DECIMALS) for x, y in pairs)


def _where(place: Place, unit: LengthUnit) -> Where:
    """The place as it is read back from print."""
    if place.kind == "about":
        return about(read_number(about_text(place, unit), unit))
    low, high = (read_number(print_number(mm, unit), unit) for mm in (place.low_mm, place.high_mm))
    return Where(low, high, place.kind)
