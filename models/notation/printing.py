"""A strand schedule written out: in the line notation, and in words for the maker to check."""

from collections.abc import Mapping, Sequence
from typing import Final

from plaitlog.models.notation.counts import lettered, print_counts, print_delta
from plaitlog.models.notation.fate import print_fate, say_fate
from plaitlog.models.notation.groups import StepGroup, step_groups
from plaitlog.models.notation.place import print_place, say_place
from plaitlog.models.notation.text import read_number, say_number
from plaitlog.models.units import LengthUnit
from plaitlog.models.whip import Fate, LayerCord, Span, StrandSchedule

_WORDS: Final = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
)  # fmt: skip


def print_schedule(
    schedule: StrandSchedule,
    unit: LengthUnit = "in",
    *,
    cords: Sequence[LayerCord] = (),
    fate: Fate | None = None,
) -> str:
    """The schedule as one line of notation that reads back to the same meaning.

    ``cords`` are the layer's, in the order of the counts; ``fate`` is the layer's own.
    """
    letters = _letters(schedule, cords)
    first = schedule.steps[0]
    start = print_counts(first.counts, letters)
    if (first.place.kind, first.place.high_mm) != ("at", 0.0):
        start = f"{print_place(first.place, unit)}: {start}"
    if first.pattern:
        start += f" {first.pattern}"
    groups = step_groups(schedule.steps, unit, fate)
    if fate and not any(group.drops for group in groups):
        start += f" {print_fate(fate, unit)}"
    pieces = [start]
    held: Fate | None = None
    for group in groups:
        words = [_print_change(group, letters)]
        if group.drops and group.fate != held:
            held = group.fate
            words.append(print_fate(held, unit) if held else "?")
        if group.pattern:
            words.append(group.pattern)
        pieces.append(f"{print_place(group.place, unit)}: {' '.join(filter(None, words))}")
    if schedule.steps[-1].total.high > 0:
        pieces.append("p" if schedule.rest == "point" else "?")
    return f"{unit}: {'; '.join(pieces)}"


def _letters(schedule: StrandSchedule, cords: Sequence[LayerCord]) -> list[str]:
    if not cords:
        return [""] * len(schedule.steps[0].counts)
    return [cord.letter or "" for cord in (cords if len(cords) == 1 else lettered(cords))]


def _print_change(group: StepGroup, letters: Sequence[str]) -> str:
    if group.deltas is None or not any(group.deltas):
        if group.deltas is not None and group.pattern:
            return ""
        if group.drops and all(count.high == 0 for count in group.counts):
            return "end"
        return f"={print_counts(group.counts, letters)}"
    if group.times == 1:
        ends = all(count.high == 0 for count in group.counts)
        return "end" if ends else print_delta(group.deltas, letters)
    exact = all(count.exact for count in (*group.first, *group.counts))
    last = sum(count.low for count in group.counts)
    changes = sum(delta for delta in group.deltas) != 0
    how_far = f"to {last:g}" if exact and changes else f"x{group.times}"
    return f"{print_delta(group.deltas, letters)} each {group.spacing} {how_far}"


def echo_schedule(
    schedule: StrandSchedule,
    unit: LengthUnit = "in",
    *,
    cords: Sequence[LayerCord] = (),
    fate: Fate | None = None,
) -> str:
    """The schedule in words, as in "16 strands of A; at 30 in 14, then every 4 in two fewer down to 8"."""
    letters = _letters(schedule, cords)
    names = {letter: cord.cord for letter, cord in zip(letters, cords, strict=False)}
    first = schedule.steps[0]
    start = _say_start(first.counts, letters, names)
    if (first.place.kind, first.place.high_mm) != ("at", 0.0):
        start = f"{say_place(first.place, unit)} {start}"
    if first.pattern:
        start += f", {first.pattern}"
    pieces = [start]
    groups = step_groups(schedule.steps, unit, fate)
    fates = {group.fate for group in groups if group.drops}
    for group in groups:
        piece = f"{say_place(group.place, unit)} {_say_change(group, letters, unit)}"
        if len(fates) > 1 and group.drops:
            piece += f" ({_say_dropped(group.fate, unit)})"
        pieces.append(piece + (f", {group.pattern}" if group.pattern else ""))
    if len(fates) == 1:
        only = next(iter(fates))
        known = f"dropped strands {say_fate(only, unit)}" if only else ""
        pieces.append(known or "what became of the dropped strands is not noted")
    if schedule.steps[-1].total.high > 0:
        pieces.append("runs to the point" if schedule.rest == "point" else "what follows is not noted")
    return "; ".join(pieces)


def _say_start(counts: Sequence[Span], letters: Sequence[str], names: Mapping[str, str]) -> str:
    parts: list[str] = []
    for count, letter in zip(counts, letters, strict=True):
        if count.high > 0 or len(counts) == 1:
            noun = "strand" if (count.low, count.high) == (1, 1) else "strands"
            name = names.get(letter, "")
            of = (
                f" of {letter} ({name})"
                if letter and name
                else f" of {letter or name}"
                if letter or name
                else ""
            )
            parts.append(f"{_say_count(count)} {noun}{of}" if not parts else f"{_say_count(count)}{of}")
    return " and ".join(parts) or "no strands"


def _say_change(group: StepGroup, letters: Sequence[str], unit: LengthUnit) -> str:
    after = _say_counts(group.first, letters)
    if all(count.high == 0 for count in group.first):
        return "it ends"
    if group.times == 1:
        return after
    assert group.deltas is not None
    by = " and ".join(
        f"{_word(abs(n))}{f' {letter}' if len(letters) > 1 else ''} {'fewer' if n < 0 else 'more'}"
        for n, letter in zip(group.deltas, letters, strict=True)
        if n
    )
    way = "down to" if sum(group.deltas) < 0 else "up to"
    spacing = say_number(float(read_number(group.spacing or "0", unit)), unit)
    return f"{after}, then every {spacing} {unit} {by} {way} {_say_counts(group.counts, letters)}"


def _say_counts(counts: Sequence[Span], letters: Sequence[str]) -> str:
    total = Span(sum(count.low for count in counts), sum(count.high for count in counts))
    if len(counts) == 1:
        return _say_count(total)
    each = ", ".join(f"{_say_count(count)} {letter}" for count, letter in zip(counts, letters, strict=True))
    return f"{_say_count(total)} ({each})"


def _say_count(count: Span) -> str:
    return f"{count.low:g}" if count.exact else f"{count.low:g} to {count.high:g}"


def _say_dropped(fate: Fate | None, unit: LengthUnit) -> str:
    return say_fate(fate, unit) if fate else "what became of them is not noted"


def _word(number: int) -> str:
    return _WORDS[number] if number < len(_WORDS) else str(number)
