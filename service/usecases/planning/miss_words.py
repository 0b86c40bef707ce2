"""What a plan misses, worded in the units of whoever reads it; places on the grid of a tape."""

from collections.abc import Hashable, Iterable, Iterator, Sequence
from typing import Any, Final

from plaitlog.models.errors import Finding
from plaitlog.service.usecases.planning.misses import BluntEnd, Miss, OffCover, OffTarget, Reason, Why
from plaitlog.service.usecases.planning.sheet_places import on_tape, tape_text, tape_unit
from plaitlog.service.usecases.shown_units import ShownUnits

REMEDIES: Final[dict[Why, tuple[str, str]]] = {
    Why.DONE: ("", ""),
    Why.FEWEST: ("a thinner cord", "a thinner cord"),
    Why.MOST: ("a thicker cord, or one layer more", "a thicker cord, or one layer more"),
    Why.STEP: ("a thinner cord has finer steps", "a thinner cord has finer steps"),
    Why.LAYER_END: (
        "end it earlier, leave its end open, or allow a lower cover under rules",
        "let it run on, or leave its end open",
    ),
    Why.COVER: (
        "a thinner cord inside, end what lies inside earlier, or allow a lower cover under rules",
        "a thicker cord",
    ),
    Why.HELD: ("a shorter parallel end", "a shorter parallel end"),
    Why.SPACING: (
        "shorter tucks, less spacing under rules, or a slower taper there",
        "shorter tucks, less spacing under rules, or a slower taper there",
    ),
    Why.RULES: ("a thinner cord, or a layer that ends earlier", "a thicker cord, or a layer that runs on"),
}
"""What could be done where it is too thick, and where it is too thin."""


def said_on_tape(mm: float, shown: ShownUnits) -> str:
    """A place on the grid with its unit: 38 1/2 in, 980 mm."""
    return f"{tape_text(on_tape(mm, shown.lengths), shown.lengths)} {tape_unit(shown.lengths)}"


def as_findings(found: Iterable[Miss], shown: ShownUnits) -> list[Finding]:
    """Misses as findings, ``off-target``, ``off-cover`` or ``blunt-end``; stretches that are off for the same
    reason are one, with all of them as its place, told by the worst."""
    return [
        Finding(
            code(worst),
            f"{extent(worst, shown)}{_there(worst, alike, shown)}, {expected(worst, shown)}",
            remedy(worst),
            stretches_on_tape(alike, shown),
        )
        for worst, alike in _alike(found)
    ]


def stretches_on_tape(found: Iterable[Miss], shown: ShownUnits) -> str:
    """Places and stretches with one unit: 12 to 15 1/2, 20 in."""
    ends = [
        [tape_text(on_tape(mm, shown.lengths), shown.lengths) for mm in (miss.from_mm, miss.to_mm)]
        for miss in found
    ]
    said = ", ".join(start if start == end else f"{start} to {end}" for start, end in ends)
    return f"{said} {tape_unit(shown.lengths)}"


def _alike(found: Iterable[Miss]) -> list[tuple[Miss, list[Miss]]]:
    """Misses that say the same but for the place, in the order of the first, each with the worst of them."""
    groups: dict[Hashable, list[Miss]] = {}
    for miss in found:
        groups.setdefault(_sameness(miss), []).append(miss)
    return [(max(alike, key=_badness), alike) for alike in groups.values()]


def _sameness(miss: Miss) -> Hashable:
    if isinstance(miss, OffTarget):
        reason = miss.reason
        return (miss.thick, reason if reason.why is not Why.STEP else reason.why)
    return (miss.slot, miss.bunches) if isinstance(miss, OffCover) else miss


def _badness(miss: Miss) -> float:
    if isinstance(miss, OffTarget):
        return abs(miss.diameter_mm - miss.wanted_mm)
    low, high = miss.rule if isinstance(miss, OffCover) else (0.0, 0.0)
    return max(low - miss.cover, miss.cover - high) if isinstance(miss, OffCover) else 0.0


def _there(worst: Miss, alike: Sequence[Miss], shown: ShownUnits) -> str:
    """Where it is worst, unless that is all of it."""
    alone = len(alike) == 1 and worst.from_mm == worst.to_mm
    return "" if alone else f" at {said_on_tape(worst.at_mm, shown)}"


def code(miss: Miss) -> str:
    if isinstance(miss, BluntEnd):
        return "blunt-end"
    return "off-target" if isinstance(miss, OffTarget) else "off-cover"


def extent(miss: Miss, shown: ShownUnits) -> str:
    """How far it is off, where it is furthest off."""
    if isinstance(miss, OffTarget):
        off = shown.diameter(abs(miss.diameter_mm - miss.wanted_mm))
        return f"{off} too {'thick' if miss.thick else 'thin'}"
    if isinstance(miss, BluntEnd):
        return f"{miss.strands} strands of the core (layer {miss.slot}) end at once"
    word = "strands bunch" if miss.bunches else "gaps show"
    return f"{word} in the {miss.role} (layer {miss.slot}): cover {miss.cover:.2f}"


def expected(miss: Miss, shown: ShownUnits) -> str:
    """What there should be, and what keeps the plan from it."""
    if isinstance(miss, OffTarget):
        return f"where {shown.diameter(miss.wanted_mm)} is wanted: {because(miss.reason, miss.thick, shown)}"
    if isinstance(miss, BluntEnd):
        return "the rule is singly"
    return f"the rule is {miss.rule[0]:g} to {miss.rule[1]:g}"


def because(reason: Reason, thick: bool, shown: ShownUnits) -> str:
    """Why, in words."""
    role = reason.role
    match reason.why:
        case Why.DONE:
            return "it is plaited already"
        case Why.FEWEST:
            return f"{reason.strands} strands, the fewest that the rules allow, come out so"
        case Why.MOST:
            return f"{reason.strands} strands in the {role}, the most that the rules allow, cover no more"
        case Why.STEP:
            return f"one drop makes {shown.diameter(reason.mm)} there"
        case Why.LAYER_END:
            word = "run" if thick else "end"
            return f"the {role} is to {word} {'to' if thick else 'at'} {said_on_tape(reason.mm, shown)}"
        case Why.COVER:
            more, then = ("fewer", "show gaps") if thick else ("more", "bunch")
            return f"with a pair {more} the {role} would {then}"
        case Why.HELD:
            return "nothing is dropped in the parallel end"
        case Why.SPACING:
            return f"drops of the {role} lie as near as they may, {said_on_tape(reason.mm, shown)} apart"
        case Why.RULES:
            return f"no schedule that the rules allow is {'thinner' if thick else 'thicker'}"


def remedy(miss: Miss) -> str:
    if isinstance(miss, OffTarget):
        return REMEDIES[miss.reason.why][0 if miss.thick else 1]
    if isinstance(miss, BluntEnd):
        return "begin with fewer, or let it end further on"
    return "fewer strands or a thinner cord" if miss.bunches else "more strands or a thicker cord"


def on_sheet(found: Iterable[Miss], shown: ShownUnits) -> Iterator[str]:
    """A line for each reason, short; what could be mended in another plan is left out."""
    for worst, alike in _alike(found):
        where = stretches_on_tape(alike, shown)
        up_to = "up to " if _there(worst, alike, shown) else ""
        if isinstance(worst, OffTarget):
            why = because(worst.reason, worst.thick, shown)
            yield f"Off the target, {where}: {up_to}{extent(worst, shown)}: {why}."
        elif isinstance(worst, BluntEnd):
            yield f"Blunt end, {where}: {extent(worst, shown)}; cut them an inch or two apart if you can."
        else:
            yield f"Off the cover, {where}: {extent(worst, shown)}, {expected(worst, shown)}."


def as_data(miss: Miss) -> dict[str, Any]:
    """The numbers, places in mm from the datum; null: it does not say that."""
    target = miss if isinstance(miss, OffTarget) else None
    cover = miss if isinstance(miss, OffCover) else None
    layer = None if isinstance(miss, OffTarget) else miss.slot
    return {
        "code": code(miss),
        "from_mm": miss.from_mm,
        "to_mm": miss.to_mm,
        "at_mm": miss.at_mm,
        "wanted_mm": target and round(target.wanted_mm, 3),
        "diameter_mm": target and round(target.diameter_mm, 3),
        "why": target and target.reason.why.value,
        "layer": layer,
        "cover": cover and round(cover.cover, 3),
        "rule": cover and list(cover.rule),
    }
