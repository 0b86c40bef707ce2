"""Taper parameters in words, as lines of a table in the reader's units, and as plain values."""

from collections.abc import Iterator
from typing import Any, Final

from plaitlog.models.errors import Finding
from plaitlog.models.handling.definitions import BY_NAME, Definition
from plaitlog.models.handling.estimate import Estimate
from plaitlog.models.handling.profile import LEAST_FOR_SHAPE
from plaitlog.service.usecases.handling.parameters import TaperParameters
from plaitlog.service.usecases.shown_units import ShownUnits

HEADS: Final = ("parameter", "value", "90 %", "how known")
SHAPE: Final = ("thick_end_mm", "point_mm", "taper_ratio")
ARTICLE: Final = {"early": "an early taper", "even": "an even taper", "late": "a late taper"}


def sentences(found: TaperParameters, shown: ShownUnits) -> Iterator[str]:
    """What there is to say, most important first."""
    yield f"{found.label}: {_taper(found, shown)}."
    parameters = found.parameters
    if "thick_end_mm" in parameters and "point_mm" in parameters and found.word != "parallel":
        ends = [value(BY_NAME[name], parameters[name], shown) for name in SHAPE]
        yield f"From {ends[0]} at the thick end to {ends[1]} at the point, {ends[2]} to 1."
    spacings = [
        f"{one.role} (layer {one.slot}) {shown.length(one.spacing.value)}"
        for one in found.drops
        if one.spacing is not None
    ]
    if spacings:
        yield f"Strands are dropped every: {', '.join(spacings)}, on the mean."
    rests = [] if found.readings is None or not found.readings.stations else [found.readings.words]
    if found.predicted_from is not None:
        rests.append(f"what is predicted: {found.predicted_from}")
    if rests:
        yield f"Rests on {'; '.join(rests)}."


def _taper(found: TaperParameters, shown: ShownUnits) -> str:
    parameters, word = found.parameters, found.word
    if word == "parallel":
        thick, point = (value(BY_NAME[n], parameters[n], shown) for n in ("thick_end_mm", "point_mm"))
        return f"parallel, {thick} at the thick end and {point} at the point"
    if word is not None:
        fullness = parameters["fullness"]
        open_ = f", perhaps {' or '.join(found.other_words)}" if found.other_words else ""
        known = "" if fullness.known == "measured" else f", {fullness.known}"
        number = f"fullness {_with_interval(BY_NAME['fullness'], fullness, shown)}{known}"
        return f"{ARTICLE[word]}{open_}: {number}{_held(parameters.get('parallel_thick_mm'), shown)}"
    if "middle_share" in parameters:
        share = _with_interval(BY_NAME["middle_share"], parameters["middle_share"], shown)
        return f"middle share {share}; its fullness needs readings at {LEAST_FOR_SHAPE} stations"
    return "nothing is known of the shape of its thong yet"


def _held(parallel: Estimate | None, shown: ShownUnits) -> str:
    """That a thong is held level first, where that is sure: its fullness is of what comes after."""
    if parallel is None or parallel.low_90 <= 0.0:
        return ""
    return f", after being held level for {_with_interval(BY_NAME['parallel_thick_mm'], parallel, shown)}"


def _with_interval(definition: Definition, one: Estimate, shown: ShownUnits) -> str:
    return f"{value(definition, one, shown)} (90 %: {interval(definition, one, shown)})"


def rows(found: TaperParameters, shown: ShownUnits) -> Iterator[tuple[str, str, str, str]]:
    """Lines of the table, under ``HEADS``."""
    for name, one in found.parameters.items():
        definition = BY_NAME[name]
        spread = "" if one.sd == 0 else interval(definition, one, shown)
        yield definition.title, value(definition, one, shown), spread, one.known


def value(definition: Definition, one: Estimate, shown: ShownUnits) -> str:
    """The value with its unit."""
    return f"{_number(definition, one.value, shown)}{_unit(definition, shown)}"


def interval(definition: Definition, one: Estimate, shown: ShownUnits) -> str:
    """Both ends of the 90 % interval."""
    return f"{_number(definition, one.low_90, shown)} to {_number(definition, one.high_90, shown)}"


def _number(definition: Definition, number: float, shown: ShownUnits) -> str:
    unit = definition.unit
    if unit == "diameter":
        return shown.diameter_number(number)
    if unit == "length":
        return shown.length(number) if number > 0 else "0"
    if unit == "mm2":
        return f"{round(number, -2):,.0f}"
    if unit == "log ratio":
        return f"{number:+.2f}"
    return (
        f"{number:.1f}" if unit == "mm per m" else f"{number:.0f}" if unit == "g per m" else f"{number:.2f}"
    )


def _unit(definition: Definition, shown: ShownUnits) -> str:
    unit = definition.unit
    if unit == "diameter":
        return f" {shown.diameters}"
    return {"mm2": " mm²", "mm per m": " mm/m", "g per m": " g/m"}.get(unit, "")


def to_json(found: TaperParameters, shown: ShownUnits) -> dict[str, Any]:
    """Plain values, numbers in the units that the names say."""
    readings = found.readings
    return {
        "label": found.label,
        "type": found.type,
        "summary": list(sentences(found, shown)),
        "taper": found.word,
        "perhaps": list(found.other_words),
        "parameters": [
            {
                "name": name,
                "title": BY_NAME[name].title,
                "unit": BY_NAME[name].unit,
                "value": one.value,
                "sd": one.sd,
                "low_90": one.low_90,
                "high_90": one.high_90,
                "known": one.known,
                "says": BY_NAME[name].says,
                "definition": BY_NAME[name].how,
            }
            for name, one in found.parameters.items()
        ],
        "drops": [
            {
                "layer": one.slot,
                "role": one.role,
                "drops": len(one.at_mm),
                "spacing_mm": None if one.spacing is None else one.spacing.value,
            }
            for one in found.drops
        ],
        "stations": 0 if readings is None else readings.stations,
        "condition": None if readings is None or not readings.stations else readings.condition,
        "left_out": {} if readings is None else dict(readings.left_out),
        "predicted_from": found.predicted_from,
        "findings": [_finding(one) for one in found.findings],
    }


def _finding(one: Finding) -> dict[str, str]:
    return {"code": one.code, "text": one.text, "remedy": one.remedy, "where": one.where}
