"""Places along a whip: thick, mid and point as stations, and all places counted from the handle end."""

from dataclasses import replace

from plaitlog.models.errors import Finding, StackNotKnownError
from plaitlog.models.whip import Fate, Foundation, Layer, Place, Reading, Whip


def thick_end_mm(whip: Whip) -> float | None:
    """Station of the thong's thick end in the whip's datum."""
    return whip.handle_length_mm if whip.datum == "butt" else 0.0


def station_of(whip: Whip, place: str) -> float | None:
    """Station of a named place, None where the lengths it needs are not noted."""
    start, point = thick_end_mm(whip), whip.point_mm
    if place == "thick":
        return start
    if place == "point":
        return point
    return None if start is None or point is None else (start + point) / 2


def placed(whip: Whip) -> Whip:
    """The whip with a station for every reading at a named place, as far as its lengths are known."""
    if all(reading.place is None for reading in whip.readings):
        return whip
    return replace(
        whip,
        readings=tuple(
            reading if reading.place is None else replace(reading, at_mm=station_of(whip, reading.place))
            for reading in whip.readings
        ),
    )


def unplaced(reading: Reading) -> Reading:
    """The reading as it is kept: a named place stands for its station, which lengths noted later give."""
    return reading if reading.place is None else replace(reading, at_mm=None)


def from_handle_end(whip: Whip) -> Whip:
    """The whip with all places counted from the handle end of the thong: as it is, or turned from the butt.

    What lies on the handle alone is left out: readings there, and drops; the count that they leave is what a
    layer begins with.

    Raises
    ------
    StackNotKnownError
        Where places are counted from the butt and the length of the handle is not noted.
    """
    start = thick_end_mm(whip)
    if start is None:
        text = f"places of {whip.label} are counted from the butt, and the length of its handle is not noted"
        raise StackNotKnownError(Finding("handle-unknown", text, f"note the handle length of {whip.label}"))
    if whip.datum != "butt":
        return whip
    foundation = whip.foundation
    if isinstance(foundation, Foundation):
        foundation = replace(foundation, to_mm=_back(foundation.to_mm, start), typed={})
    return replace(
        whip,
        datum="handle end",
        foundation=foundation,
        layers=tuple(_layer_from(layer, start) for layer in whip.layers),
        readings=tuple(
            replace(one, at_mm=None if one.at_mm is None else one.at_mm - start, typed={})
            for one in whip.readings
            if one.at_mm is None or one.at_mm >= start
        ),
        turn_lengths=tuple(
            replace(one, at_mm=one.at_mm - start, typed={}) for one in whip.turn_lengths if one.at_mm >= start
        ),
    )


def _back(at_mm: float | None, start_mm: float) -> float | None:
    return None if at_mm is None else max(at_mm - start_mm, 0.0)


def _layer_from(layer: Layer, start_mm: float) -> Layer:
    def fate(one: Fate | None) -> Fate | None:
        return one if one is None else replace(one, until_mm=_back(one.until_mm, start_mm))

    schedule = layer.schedule
    if schedule is not None:
        low = [one.place.low_mm <= start_mm for one in schedule.steps]
        begun = max((k for k, before in enumerate(low) if before), default=0)
        steps = tuple(
            replace(
                one,
                place=Place(
                    max(one.place.low_mm - start_mm, 0.0),
                    max(one.place.high_mm - start_mm, 0.0),
                    one.place.kind,
                ),
                fate=fate(one.fate),
            )
            for one in schedule.steps[begun:]
        )
        schedule = replace(schedule, steps=steps)
    return replace(
        layer,
        schedule=schedule,
        fate=fate(layer.fate),
        from_mm=_back(layer.from_mm, start_mm),
        to_mm=_back(layer.to_mm, start_mm),
        typed={},
    )
