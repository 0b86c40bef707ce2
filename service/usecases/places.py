"""Named places of readings: thick, mid and point as stations, once the whip's lengths are known."""

from dataclasses import replace

from plaitlog.models.whip import Reading, Whip


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
