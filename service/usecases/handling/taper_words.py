"""Taper parameters in words, as lines of a table in the reader's units, and as plain values."""

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any, Final

from plaitlog.models.handling.definitions import BY_NAME, Definition
from plaitlog.models.handling.estimate import Estimate
from plaitlog.models.handling.profile import LEAST_FOR_SHAPE
from plaitlog.service.usecases.handling.parameter_values import number, said
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
        ends = [said(name, parameters[name].value, shown) for name in SHAPE]
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
        thick, point = (said(n, parameters[n].value, shown) for n in ("thick_end_mm", "point_mm"))
        return f"parallel, {thick} at the thick end and {point} at the point"
    if word is not None:
        fullness = parameters["fullness"]
        open_ = f", perhaps {' or '.join(found.other_words)}" if found.other_words else ""
        known = "" if fullness.known == "measured" else f", {fullness.known}"
        told = f"fullness {_with_interval(BY_NAME['fullness'], fullness, shown)}{known}"
        return f"{ARTICLE[word]}{open_}: {told}{_held(parameters.get('parallel_thick_mm'), shown)}"
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
    return f"{said(definition.name, one.value, shown)} (90 %: {interval(definition, one, shown)})"


def rows(found: TaperParameters, shown: ShownUnits) -> Iterator[tuple[str, str, str, str]]:
    """Lines of the table, under ``HEADS``."""
    for name, one in found.parameters.items():
        definition = BY_NAME[name]
        spread = "" if one.sd == 0 else interval(definition, one, shown)
        yield definition.title, said(name, one.value, shown), spread, one.known


def interval(definition: Definition, one: Estimate, shown: ShownUnits) -> str:
    """Both ends of the 90 % interval."""
    return f"{number(definition, one.low_90, shown)} to {number(definition, one.high_90, shown)}"


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
        "findings": [asdict(one) for one in found.findings],
    }
