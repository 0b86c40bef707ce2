"""What a drawing of a whip says beside its lines: title, lengths, layers with their drops, remarks."""

from collections.abc import Iterator

from plaitlog.models.whip import NONE, Foundation, Layer, Reading, Span, Whip
from plaitlog.service.reports.drawn_whip import DrawnLayer, DrawnStep, span_text
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.recording.proposals import TEST_PLAIT
from plaitlog.service.usecases.shown_units import ShownUnits


def drawn_layer(layer: Layer, place: int, shown: ShownUnits, end_mm: float) -> DrawnLayer:
    """A listed layer with its drops; ``place`` counts from 1, innermost."""
    if layer.diameter_mm is not None or layer.thickness_mm is not None:
        size = (
            f"{layer.thickness_mm:g} mm" if layer.diameter_mm is None else shown.diameter(layer.diameter_mm)
        )
        begin = 0.0 if layer.from_mm is None else layer.from_mm
        steps = [DrawnStep(low_mm=begin, high_mm=begin, count=size)]
        if layer.to_mm is not None and layer.to_mm < end_mm:
            steps.append(DrawnStep(low_mm=layer.to_mm, high_mm=layer.to_mm, count="0"))
        return DrawnLayer(
            place=place,
            role=layer.role,
            made_of=layer.what or "",
            steps=tuple(steps),
            rest="end" if len(steps) == 2 else "point",
        )
    made_of = " + ".join(cord.cord for cord in layer.cords) or "cord not noted"
    schedule = layer.schedule
    if schedule is None or not schedule.steps:
        return DrawnLayer(place=place, role=layer.role, made_of=made_of)
    ends = schedule.steps[-1].total.high == 0
    return DrawnLayer(
        place=place,
        role=layer.role,
        made_of=made_of,
        steps=tuple(
            DrawnStep(
                low_mm=step.place.low_mm,
                high_mm=step.place.high_mm,
                count=_counts(step.counts),
                kind=step.place.kind,
            )
            for step in schedule.steps
        ),
        rest="end" if ends else schedule.rest,
    )


def _counts(counts: tuple[Span, ...]) -> str:
    if all(count.high == 0 for count in counts):
        return "0"
    return "+".join(map(span_text, counts))


def about(whip: Whip) -> str:
    """What stands beside the label: bullwhip by Orrin (finished) made on 2026-03-02."""
    said = [whip.type or "whip"]
    if whip.maker:
        said.append(f"by {whip.maker}")
    if whip.status:
        said.append(f"({whip.status})")
    if whip.made_on:
        said.append(f"made on {whip.made_on}")
    return " ".join(said)


def datum_of(whip: Whip) -> str:
    """Where stations are counted from, in words."""
    return "one end" if whip.type == TEST_PLAIT else whip.datum or "handle end"


def lengths(whip: Whip, shown: ShownUnits) -> str:
    """The lengths of the whip and what they rest on, in one line."""
    said = []
    if whip.thong_length_mm is not None:
        what = "length" if whip.type == TEST_PLAIT else "thong"
        said.append(f"{what} {shown.long_length(whip.thong_length_mm)}")
    else:
        said.append("thong length not noted: drawn to the last place that is noted")
    said.append(f"stations from {'' if whip.type == TEST_PLAIT else 'the '}{datum_of(whip)}")
    if whip.handle_length_mm is not None:
        handle = shown.length(whip.handle_length_mm) if whip.handle_length_mm else ""
        said.append(f"handle {handle}" if handle else "no handle")
    if isinstance(whip.foundation, Foundation):
        what = f" {whip.foundation.material}" if whip.foundation.material else ""
        said.append(f"foundation {shown.diameter(whip.foundation.diameter_mm)}{what}")
    elif whip.foundation == NONE:
        said.append("no foundation")
    if whip.quoted_length:
        said.append(f"quoted as {whip.quoted_length}")
    return "; ".join(said)


def remarks(whip: Whip, shown: ShownUnits, in_force: InForce) -> Iterator[str]:
    """What the drawing cannot show, or rests on less than it seems."""
    if not whip.readings:
        yield "no reading is recorded"
    for reading in whip.readings:
        if reading.at_mm is None:
            yield _elsewhere(reading, shown)
    if in_force.number is not None:
        yield from (finding.text for finding in in_force.findings)
    if whip.type == TEST_PLAIT:
        return
    if whip.datum is None:
        yield "where stations are counted from is not noted: the handle end is assumed"
    if whip.handle_length_mm is None:
        yield "whether there is a handle is not noted"


def _elsewhere(reading: Reading, shown: ShownUnits) -> str:
    place = f" ({reading.place})" if reading.place else ""
    return f"{shown.diameter(reading.size_mm)} measured at a place whose station is not known{place}"
