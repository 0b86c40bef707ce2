"""The question behind a plan that nobody asked for word by word, so that it can be kept, started, changed."""

from collections.abc import Mapping
from typing import Any

from plaitlog.models.notation.fate import print_fate
from plaitlog.models.planning.asked import AskedLayer
from plaitlog.models.whip import Layer
from plaitlog.service.usecases.planning.plan import Plan
from plaitlog.service.usecases.planning.planning import Bench
from plaitlog.service.usecases.to_records import known


def question_of(spec: Mapping[str, Any], bench: Bench, plan: Plan) -> Mapping[str, Any]:
    """What was asked for (``spec``) with its layers as this plan has them; itself where those are the same.

    A layer that was taken over from a recorded whip with its drops cannot be said in a question; then all of
    it stays as it was.
    """
    if plan.asked.layers == bench.order.asked.layers:
        return spec
    order = bench.order
    from_butt = (order.whip.handle_length_mm or 0.0) if spec.get("datum") == "butt" else 0.0
    layers = [_layer(one, from_butt) for one in plan.asked.layers]
    if any(one is None for one in layers):
        return spec
    return {**spec, "layers": layers}


def _layer(one: AskedLayer | Layer, from_butt_mm: float) -> dict[str, Any] | None:
    if isinstance(one, AskedLayer):
        several = [{"cord": share.cord.name, "share": share.share} for share in one.mixed]
        return known(
            role=one.role,
            cord=None if several else one.cord.name,
            cords=several or None,
            start=one.start,
            ends="point" if one.ends == "point" else None,
            ends_mm=None if one.ends in (None, "point") else round(float(one.ends) + from_butt_mm, 6),
            fate=print_fate(one.fate, "mm", with_unit=True),
        )
    if one.schedule is not None or one.cords:
        return None
    return known(
        role=one.role,
        diameter_mm=one.diameter_mm,
        thickness_mm=one.thickness_mm,
        from_mm=None if one.from_mm is None else one.from_mm + from_butt_mm,
        to_mm=None if one.to_mm is None else one.to_mm + from_butt_mm,
        what=one.what,
    )
