"""A whip station by station, as its drawing has it: what lies where, what comes out, what was read nearby."""

from typing import Any

from plaitlog.service.reports.drawn_whip import DrawnReading, WhipDrawing, count_in


def stretches(drawing: WhipDrawing) -> list[dict[str, Any]]:
    """Every stretch over which the stack stays the same, from the datum to the point, as plain values.

    ``layers`` holds a text for each listed layer, innermost first: its strands (``+2`` runs on inside as
    filler), empty where it does not lie. ``predicted`` is empty where the stack is not known; ``reason`` says
    why. ``readings`` are those in the stretch.
    """
    shown = drawing.shown
    last = drawing.sections[-1] if drawing.sections else None
    return [
        {
            "from_mm": section.from_mm,
            "to_mm": section.to_mm,
            "from": shown.length(section.from_mm),
            "to": shown.length(section.to_mm),
            "layers": [count_in(section, layer.place) for layer in drawing.layers],
            "reason": section.reason,
            "predicted_mm": None if section.reason else section.diameter_mm,
            "predicted": "" if section.reason else shown.diameter(section.diameter_mm),
            "interval": "" if section.reason else shown.interval(section.low_90_mm, section.high_90_mm),
            "readings": [
                reading_words(drawing, reading)
                for reading in drawing.readings
                if section.from_mm <= reading.at_mm < section.to_mm
                or (section is last and reading.at_mm >= section.to_mm)
            ],
        }
        for section in drawing.sections
    ]


def nearest(drawing: WhipDrawing) -> list[dict[str, Any]]:
    """The readings with a station, in words, for the one nearest to a place to be found among them."""
    return [
        {"at_mm": reading.at_mm, "words": f"{reading_words(drawing, reading)} at "
         f"{drawing.shown.length(reading.at_mm)}"}
        for reading in drawing.readings
    ]  # fmt: skip


def reading_words(drawing: WhipDrawing, reading: DrawnReading) -> str:
    """``14.1 mm?`` in doubt, ``9.8 mm on layer 2`` on an inner layer."""
    on = "" if reading.after_layer is None else f" on layer {reading.after_layer}"
    return f"{drawing.shown.diameter(reading.diameter_mm)}{'?' if reading.doubtful else ''}{on}"
