"""What layers of a plan must keep to be planned at all: each refusal names the key."""

from collections.abc import Sequence

from plaitlog.models.planning.asked import AskedLayer, Rules, Target
from plaitlog.models.whip import Foundation, KnownNone
from plaitlog.service.schemas.plan_spec import PlannedLayerShape
from plaitlog.service.usecases.from_records import Refusals
from plaitlog.service.usecases.planning.asked_layers import Layers
from plaitlog.service.usecases.planning.typed_sizes import said


def check_order(shapes: Sequence[PlannedLayerShape], refusals: Refusals) -> None:
    """Core inside, then bellies, then the overlay, which is the last of them."""
    order = {"core": 0, "belly": 1, "overlay": 2}
    plaits = [(number, shape.role) for number, shape in enumerate(shapes, start=1) if shape.role in order]
    ranks = [order[role] for _, role in plaits]
    if "overlay" not in [role for _, role in plaits]:
        refusals.add("layers", "no-overlay", "there is no overlay", "name the cord of the outer plait")
    elif ranks != sorted(ranks) or ranks.count(2) > 1:
        refusals.add(
            "layers", "order", "they do not lie inside out", "core first, then bellies, one overlay last"
        )


def check_starts(layers: Layers, rules: Rules, refusals: Refusals) -> None:
    """Starts lie within the rule for their counts."""
    for number, layer in enumerate(layers, start=1):
        if not isinstance(layer, AskedLayer) or layer.start is None:
            continue
        name = "core_counts" if layer.role == "core" else "plait_counts"
        least, most = getattr(rules, name)
        if not least <= layer.start <= most:
            text = f"{layer.start} strands are not within the rule for its counts, {least} to {most}"
            remedy = f"write {least} to {most}, or set {name} under rules"
            refusals.add(f"layers {number}, start", "out-of-range", text, remedy)


def check_places(layers: Layers, thong_mm: float, refusals: Refusals, unit: str) -> None:
    """Layers without strands lie on the thong, as typed; ``unit``: what lengths are told in, mm or in."""
    for number, layer in enumerate(layers, start=1):
        if isinstance(layer, AskedLayer):
            continue
        start, end = layer.from_mm or 0.0, thong_mm if layer.to_mm is None else layer.to_mm
        if start >= thong_mm:
            text = f"it begins at {said(start, unit)}, the thong is {said(thong_mm, unit)}"
            refusals.add(f"layers {number}, from", "beyond-thong", text, "correct it, or leave it out")
        elif start > end or start == end > 0:  # what lies on the handle alone ends where the thong begins
            text = f"it begins at {said(start, unit)} and ends at {said(end, unit)}"
            refusals.add(f"layers {number}, to", "empty-layer", text, "correct one of them")


def check_foundation(
    foundation: Foundation | KnownNone | None, thong_mm: float, refusals: Refusals, unit: str
) -> None:
    """A rod ends before the point does; ``unit``: what lengths are told in, mm or in."""
    end = (foundation.to_mm or 0.0) if isinstance(foundation, Foundation) else 0.0
    if end >= thong_mm:
        text = f"it ends at {said(end, unit)}, the thong is {said(thong_mm, unit)}"
        refusals.add("foundation, to", "beyond-thong", text, "correct one of them")


def check_ends(layers: Layers, goal: Target, refusals: Refusals, unit: str) -> None:
    """A layer cannot end where nothing is dropped; ``unit``: what lengths are told in, mm or in."""
    for number, layer in enumerate(layers, start=1):
        ends = layer.ends if isinstance(layer, AskedLayer) else None
        if not isinstance(ends, float | int) or (ends > 0 and goal.held_to_mm <= ends <= goal.held_from_mm):
            continue
        held = "in a parallel end or the transition, without drops" if ends > 0 else "where the thong begins"
        free = f"{said(goal.held_to_mm, unit)} to {said(goal.held_from_mm, unit)}"
        remedy = f"write {free}, or shorten the parallel end"
        if not goal.held_to_mm and ends <= 0:
            remedy = "write a place on the thong, or leave the layer out"
        text = f"it ends at {said(ends, unit)}, {held}"
        refusals.add(f"layers {number}, ends", "ends-held", text, remedy)
