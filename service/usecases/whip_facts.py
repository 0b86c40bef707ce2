"""What is noted of one whip, for a page: its own facts in pairs of name and words, layers, ratings."""

from collections.abc import Iterator
from typing import Any

from plaitlog.models.handling.spoken import spoken
from plaitlog.models.notation import echo_schedule
from plaitlog.models.units import show_mass
from plaitlog.models.whip import FEELS, NONE, Foundation, RatingSession, Weight, Whip
from plaitlog.service.usecases.describing import layer_lines, notation
from plaitlog.service.usecases.rating_anchors import FELT
from plaitlog.service.usecases.shown_units import ShownUnits

Pair = tuple[str, str]


def in_brief(whip: Whip) -> str:
    """``bullwhip by Orrin, finished, made on 2026-03-02``; empty where only the label is known."""
    said = [
        " ".join(filter(None, (whip.type, f"by {whip.maker}" if whip.maker else ""))),
        whip.status or "",
        f"made on {whip.made_on}" if whip.made_on else "",
        f"number {whip.build_number}" if whip.build_number is not None else "",
    ]
    return ", ".join(filter(None, said))


def facts(whip: Whip, shown: ShownUnits) -> Iterator[Pair]:
    """The whip's own facts, in the order in which they are recorded; what is not noted is left out."""
    if whip.thong_length_mm is not None:
        yield "thong", shown.long_length(whip.thong_length_mm)
    if whip.datum:
        yield "stations counted from", f"the {whip.datum}"
    if whip.handle_length_mm is not None:
        yield "handle", shown.length(whip.handle_length_mm) if whip.handle_length_mm else "none"
    if whip.handle_diameter_mm is not None:
        yield "handle, over everything", shown.diameter(whip.handle_diameter_mm)
    if whip.quoted_length:
        yield "quoted as", whip.quoted_length
    if whip.foundation is not None:
        yield "foundation", _foundation(whip.foundation, shown)
    for turn in whip.turn_lengths:
        yield f"one turn at {shown.length(turn.at_mm)}", shown.length(turn.turn_mm)
    if whip.finish:
        yield "finish", whip.finish if isinstance(whip.finish, str) else ", ".join(whip.finish)
    for weight in whip.weights:
        yield "weight", weight_words(weight)
    if whip.balance is not None:
        how = f", {whip.balance.how}" if whip.balance.how else ""
        yield "balance", f"{shown.length(whip.balance.at_mm)} from the {whip.balance.counted_from}{how}"
    if whip.hours is not None:
        yield "work", shown.number(f"{whip.hours:g} hours")
    for use in whip.cord_used:
        yield f"{use.cord} used", shown.number(f"{use.metres:g} m")
    if whip.fall:
        yield "fall", whip.fall
    if whip.cracker:
        yield "cracker", whip.cracker


def weight_words(weight: Weight) -> str:
    """``412 g with fall and cracker``."""
    parts = weight.with_parts
    beside = "" if parts is None else ", bare" if parts == NONE else f" with {' and '.join(parts)}"
    upto = "" if weight.after_layer is None else f", after layer {weight.after_layer}"
    return f"{show_mass(weight.weight_g)}{beside}{upto}"


def _foundation(foundation: Foundation | str, shown: ShownUnits) -> str:
    if not isinstance(foundation, Foundation):
        return "none"
    made_of = f" {foundation.material}" if foundation.material else ""
    ends = "the datum" if foundation.to_mm is None else shown.length(foundation.to_mm)
    return f"{shown.diameter(foundation.diameter_mm)}{made_of}, to {ends}"


def layer_rows(whip: Whip, shown: ShownUnits) -> list[dict[str, Any]]:
    """The listed layers, innermost first: what each is made of, in notation and in words."""
    rows: list[dict[str, Any]] = []
    for place, layer in enumerate(whip.layers, start=1):
        row: dict[str, Any] = {"place": place, "role": layer.role, "notes": layer.notes or ""}
        lots = [f"{cord.cord} of lot {cord.lot}" for cord in layer.cords if cord.lot]
        row["cords"] = [cord.cord for cord in layer.cords]
        row["lots"] = ", ".join(lots)
        if layer.schedule is None or not layer.schedule.steps:
            given = next(layer_lines(layer, shown)).removeprefix(f"{layer.role}: ")
            rows.append({**row, "notation": "", "words": given})
            continue
        unit, line = notation(layer, shown)
        words = echo_schedule(layer.schedule, unit, cords=layer.cords, fate=layer.fate)
        rows.append({**row, "notation": line, "words": words})
    return rows


def rating_parts(rating: RatingSession) -> dict[str, Any]:
    """A rating session: who and when, every score by quality, the two-sided notes in words."""
    said = [
        f"by {rating.by}" if rating.by else "by its maker",
        f"on {rating.on}" if rating.on else "",
        "" if rating.hours_of_use is None else f"after {rating.hours_of_use:g} hours of use",
        f"beside {rating.compared_with}" if rating.compared_with else "",
    ]
    scores = [
        {"quality": spoken(quality), "score": score if isinstance(score, str) else f"{score:g}"}
        for quality, score in rating.scores.items()
    ]
    fitted = [f"{part} {getattr(rating, part)}" for part in ("fall", "cracker") if getattr(rating, part)]
    feels = [
        f"{FELT[side][value > 0]} {abs(value):g}" for side in FEELS if (value := rating.feel.get(side, 0.0))
    ]
    return {
        "head": ", ".join(filter(None, said)),
        "scores": scores,
        "feels": feels,
        "fitted": ", ".join(fitted),
        "beside": rating.compared_with,
        "notes": rating.notes or "",
    }
