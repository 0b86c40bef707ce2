"""The plan that is kept with a whip: a document that is stored as it is, and what is read from it."""

from collections.abc import Mapping
from typing import Any

from plaitlog.models.whip import Layer
from plaitlog.service.schemas.kept_plan import KeptPlanShape
from plaitlog.service.schemas.whips import WhipRecord
from plaitlog.service.usecases.from_layers import layers_from
from plaitlog.service.usecases.from_records import Refusals
from plaitlog.service.usecases.to_layer_records import layer_record
from plaitlog.service.usecases.to_records import known

WHERE = "plan"


def kept_plan_from(shape: KeptPlanShape, refusals: Refusals) -> dict[str, Any]:
    """The document of a shape: layers as steps in mm, keys in fixed order, what is not known left out."""
    for number, one in enumerate(shape.stations, start=1):
        if not one.low_90_mm <= one.diameter_mm <= one.high_90_mm:
            text = "the expected diameter does not lie in its interval"
            refusals.add(f"{WHERE}, stations {number}", "disagree", text, "correct one of the three")
    layers = _layers(shape.layers, refusals)
    return known(
        fit=shape.fit,
        rests_on=shape.rests_on,
        spec=shape.spec,
        layers=[layer_record(layer) for layer in layers],
        stations=[known(**one.model_dump()) for one in shape.stations],
        cord_totals=[known(**one.model_dump()) for one in shape.cord_totals or ()] or None,
        **{
            key: getattr(shape, key)
            for key in (
                "weight_g", "weight_low_90_g", "weight_high_90_g",
                "balance_mm", "balance_low_90_mm", "balance_high_90_mm", "hours",
            )
        },
    )  # fmt: skip


def planned_layers(kept: Mapping[str, Any]) -> tuple[Layer, ...]:
    """The layers of a stored document."""
    return _layers(KeptPlanShape.model_validate(kept).layers, Refusals())


def wanted_along(kept: Mapping[str, Any] | None) -> list[tuple[float, float]]:
    """Places and wanted diameters of the finished whip in a stored document, mm; none without one."""
    stations = [] if kept is None else kept["stations"]
    return [
        (one["at_mm"], one["target_mm"])
        for one in stations
        if one.get("after_layer") is None and one.get("target_mm") is not None
    ]


def with_cord_renamed(kept: Mapping[str, Any], before: str, after: str) -> dict[str, Any]:
    """The document with a cord that has another name now, wherever it is named."""
    return {key: _renamed(value, before, after) for key, value in kept.items()}


def _renamed(value: Any, before: str, after: str) -> Any:
    if isinstance(value, list):
        return [_renamed(one, before, after) for one in value]
    if isinstance(value, Mapping):
        return {
            key: after if key == "cord" and one == before else _renamed(one, before, after)
            for key, one in value.items()
        }
    return value


def _layers(shapes: list[Any], refusals: Refusals) -> tuple[Layer, ...]:
    own = Refusals()
    read = layers_from(WhipRecord.model_validate({"label": WHERE, "layers": shapes}), None, own)
    refusals.findings.extend(finding.at(WHERE) for finding in own.findings)
    return read.layers
