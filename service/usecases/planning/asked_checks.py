"""What layers of a plan must keep to be planned at all: each refusal names the key."""

from collections.abc import Sequence

from plaitlog.models.planning.asked import AskedLayer, Rules, Target
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


def check_ends(layers: Layers, goal: Target, refusals: Refusals, unit: str) -> None:
    """A layer cannot end where nothing is dropped; ``unit``: what lengths are told in, mm or in."""
    for number, layer in enumerate(layers, start=1):
        ends = layer.ends if isinstance(layer, AskedLayer) else None
        if isinstance(ends, float | int) and not goal.held_to_mm <= ends <= goal.held_from_mm:
            free = f"{said(goal.held_to_mm, unit)} to {said(goal.held_from_mm, unit)}"
            refusals.add(
                f"layers {number}, ends",
                "ends-held",
                f"it ends at {said(ends, unit)}, in a parallel end or the transition, without drops",
                f"write {free}, or shorten the parallel end",
            )
