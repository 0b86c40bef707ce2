"""From what a plan is asked for to the planner's question: units read, what is left open filled in."""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from plaitlog.models.errors import Finding, RecordError
from plaitlog.models.planning.asked import Asked, AskedLayer, Rules
from plaitlog.models.planning.levels import levels_of
from plaitlog.models.units import show_length
from plaitlog.models.whip import NONE, Cord, Foundation, KnownNone, Whip
from plaitlog.service.schemas.plan_spec import PlanSpec, RulesShape, TargetShape
from plaitlog.service.usecases.from_records import Refusals
from plaitlog.service.usecases.places import from_handle_end
from plaitlog.service.usecases.planning.asked_checks import (
    check_ends,
    check_foundation,
    check_order,
    check_places,
    check_starts,
)
from plaitlog.service.usecases.planning.asked_layers import Layers, asked_layers, layers_like
from plaitlog.service.usecases.planning.like_profile import MeasuredProfile, measured_profile
from plaitlog.service.usecases.planning.ready_patterns import READY_PATTERNS, ReadyPattern
from plaitlog.service.usecases.planning.targets import Wanted, target_of
from plaitlog.service.usecases.planning.typed_sizes import said, typed_sizes

TapeUnit = Literal["mm", "in"]
NEXT: Final = "next whip"
"""What a plan without a label is called."""
GRID_MM: Final = {"mm": 10.0, "in": 12.7}
"""Places are told to 10 mm or half an inch, by the unit that lengths are in."""
TRANSITION_MM: Final = {"mm": 100.0, "in": 101.6}
"""Behind a handle that is plaited over a rod, where nothing is said of it (own choice)."""
WIDE_FROM: Final = 3e8
"""States and nodes from which on the grid is twice as wide unless it is given: some ten seconds of work."""
USUAL_COUNTS: Final = 12
"""So many counts, or fewer, are left of a layer whose start is open, once it has to meet the thick end."""
_INCHES: Final = re.compile(r"\d *(in|ft|feet|foot|['\"′″’”])")


@dataclass(frozen=True, slots=True)
class Order:
    """What is to be planned: a whip that has everything but its layers, and the planner's question.

    unit : of the marks on the tape, which its grid follows. like : the recorded whip it is to be like;
    pair : it is to be its matched pair. transition_mm : None where it is not stated. findings : what was
    taken for what was left open.
    """

    whip: Whip
    asked: Asked
    unit: TapeUnit
    like: Whip | None = None
    pair: bool = False
    transition_mm: float | None = None
    findings: tuple[Finding, ...] = ()


def asked_of(spec: PlanSpec, cords: Mapping[str, Cord], whip_by_label: Callable[[str], Whip]) -> Order:
    """The question of a plan; ``whip_by_label`` finds the recorded whips that it names.

    Raises
    ------
    RecordError
        With everything that is to be mended: key, value, remedy.
    NotFoundError, StackNotKnownError
        Where a recorded whip is not there, or too little is known of it.
    """
    order = _order(spec, cords, whip_by_label, wide=False)
    given = spec.rules is not None and (spec.rules.grid is not None or spec.rules.grid_mm is not None)
    if given or work_of(order.asked) < WIDE_FROM:
        return order
    return _order(spec, cords, whip_by_label, wide=True)


def _order(
    spec: PlanSpec, cords: Mapping[str, Cord], whip_by_label: Callable[[str], Whip], *, wide: bool
) -> Order:
    """wide : on a grid twice as wide as usual."""
    refusals = Refusals()
    remarks: list[Finding] = []
    declared = spec.units
    target = spec.target or TargetShape.model_validate({})
    like = _like(target, whip_by_label, refusals)
    pattern = None if spec.pattern is None else READY_PATTERNS[spec.pattern]
    sizes = _sizes(spec, like, pattern, refusals)
    tape = unit_of(spec, like)
    rules = _rules(spec, tape, wide, refusals)
    if wide:
        grid = show_length(rules.grid_mm, "in fraction" if tape == "in" else "mm")
        text = f"many layers: places are planned on a grid of {grid}"
        remarks.append(Finding("wide-grid", text, "give a grid under rules for another"))
    thong = sizes.get("thong_length_mm")
    if thong is None and spec.thong_length is None:
        refusals.add("thong_length", "missing", "is missing", "write the length of the thong, such as '5 ft'")
    if thong is None or refusals.findings:
        raise RecordError(*refusals.findings)
    zero = 0.0
    if spec.datum == "butt":
        zero = -sizes.get("handle_length_mm", 0.0)
        remarks.append(
            Finding("datum", "places typed from the butt; the plan counts from the handle end of the thong")
        )
    foundation = _foundation(spec, like, zero, refusals)
    if spec.foundation is not None:
        check_foundation(foundation, thong, refusals, tape)
    transition = sizes.get("transition_mm")
    if transition is None and isinstance(foundation, Foundation) and sizes.get("handle_length_mm"):
        transition = TRANSITION_MM[tape]
        taken = show_length(transition, "in fraction" if tape == "in" else "mm")
        text = f"nothing is dropped on the {taken} behind the handle, which are taken for its transition"
        remarks.append(Finding("transition", text))
    profile = None if like is None else measured_profile(like)
    if like is not None and profile is not None and profile.passed_over_mm:
        places = ", ".join(said(at, tape) for at in profile.passed_over_mm)
        text = f"readings of {like.label} at {places} stand out from their neighbours and are passed over"
        remarks.append(Finding("reading-passed-over", text, "look again at them"))
    wanted = Wanted(
        sizes=typed_sizes(target, refusals, "target", declared),
        thong_mm=thong,
        grid_mm=rules.grid_mm,
        transition_mm=transition or 0.0,
        zero_mm=zero,
        declared=declared,
        pattern=pattern,
        handle_diameter_mm=sizes.get("handle_diameter_mm"),
        profile=profile,
    )
    goal = target_of(target, wanted, refusals)
    layers = _layers(spec, cords, like, profile, wanted, rules, refusals)
    if not spec.layers or len(layers) == len(spec.layers):  # else their numbers are not those of the text
        check_starts(layers, rules, refusals)
        if spec.layers:
            check_places(layers, thong, refusals, tape)
        if goal is not None:
            check_ends(layers, goal, refusals, tape)
    if goal is None or refusals.findings:
        raise RecordError(*refusals.findings)
    if pattern is not None:
        remarks.append(Finding("pattern", f"{spec.pattern}: common practice, no source"))
    rod = foundation if isinstance(foundation, Foundation) else None
    whip = Whip(
        label=spec.label or NEXT,
        maker=spec.maker or (like.maker if like else None),
        type=spec.type or (like.type if like else None) or (pattern.type if pattern else None),
        status="planned",
        datum="handle end",
        thong_length_mm=thong,
        handle_length_mm=sizes.get("handle_length_mm"),
        handle_diameter_mm=sizes.get("handle_diameter_mm"),
        foundation=foundation,
    )
    asked = Asked(
        length_mm=thong,
        layers=layers,
        target=goal,
        foundation_mm=rod.diameter_mm if rod else 0.0,
        foundation_to_mm=(rod.to_mm or 0.0) if rod else 0.0,
        cords=cords,
        rules=rules,
    )
    return Order(
        whip,
        asked,
        tape,
        like,
        target.pair_of is not None,
        transition,
        tuple(remarks),
    )


def unit_of(spec: PlanSpec, like: Whip | None = None) -> TapeUnit:
    """What lengths are told in: in where they were declared or typed in feet or inches, else mm.

    Where the thong's length is not typed, that of the handle tells, a pattern that is named by its length, or
    the length of the recorded whip it is to be like.
    """
    if spec.units is not None:
        return "in" if spec.units == "in" else "mm"
    typed = spec.thong_length
    if typed is None and spec.thong_length_mm is None:
        typed = spec.handle_length or spec.pattern or (like.typed.get("thong_length") if like else None)
    return "in" if _INCHES.search(typed or "") else "mm"


def _like(target: TargetShape, whip_by_label: Callable[[str], Whip], refusals: Refusals) -> Whip | None:
    ways = [
        name for name in ("stations", "stations_mm", "like", "pair_of") if getattr(target, name) is not None
    ]
    numbers = [
        name
        for name in ("taper", "fullness", "thick_end", "thick_end_mm", "point", "point_mm")
        if getattr(target, name) is not None
    ]
    if len(ways) > 1 or (ways and numbers):
        refusals.add(
            "target",
            "target-unclear",
            f"{' and '.join([*ways, *numbers][:3])} are two targets",
            "keep a taper with its numbers, or stations, or like, or pair_of",
        )
        return None
    label = target.like or target.pair_of
    return None if label is None else from_handle_end(whip_by_label(label))


def _sizes(
    spec: PlanSpec, like: Whip | None, pattern: ReadyPattern | None, refusals: Refusals
) -> dict[str, float]:
    """Lengths and diameters of the whip: as typed, else of the recorded whip, else of the pattern."""
    found: dict[str, float] = {}
    for source in (pattern, like):
        for key in ("thong_length_mm", "handle_length_mm", "handle_diameter_mm"):
            value = getattr(source, key, None)
            if value is not None:
                found[key] = value
    return {**found, **typed_sizes(spec, refusals, "", spec.units)}


def work_of(asked: Asked) -> float:
    """About how many states and nodes are looked at, states times nodes."""
    states = math.prod(
        (len(one.counts) if one.layer.start is not None else min(len(one.counts), USUAL_COUNTS))
        * (one.wait + 1)
        for one in levels_of(asked)
    )
    return float(states * len(asked.target.diameter_mm))


def _rules(spec: PlanSpec, tape: TapeUnit, wide: bool, refusals: Refusals) -> Rules:
    shape = spec.rules or RulesShape.model_validate({})
    given: dict[str, Any] = {"grid_mm": GRID_MM[tape] * (2 if wide else 1)}
    given.update(typed_sizes(shape, refusals, "rules", spec.units))
    for key in ("plait_counts", "core_counts", "cover", "regular"):
        if getattr(shape, key) is not None:
            given[key] = tuple(getattr(shape, key))
    for key in ("drop_cost", "irregular_cost"):
        if getattr(shape, key) is not None:
            given[key] = getattr(shape, key)
    rules = replace(Rules(), **given)
    low, high = rules.plait_counts
    if low % 2 or high % 2:
        refusals.add("rules, plait_counts", "odd-count", "a plait has even counts", "write even numbers")
    return rules


def _layers(
    spec: PlanSpec,
    cords: Mapping[str, Cord],
    like: Whip | None,
    profile: MeasuredProfile | None,
    wanted: Wanted,
    rules: Rules,
    refusals: Refusals,
) -> Layers:
    if spec.layers:
        layers = asked_layers(
            spec.layers,
            cords,
            refusals,
            declared=spec.units,
            unit=unit_of(spec, like),
            zero_mm=wanted.zero_mm,
            thong_mm=wanted.thong_mm,
            pattern=wanted.pattern,
        )
        check_order(spec.layers, refusals)
        return layers
    if like is None or profile is None:
        example = '{"role": "overlay", "cord": "Ridge 4 mm"}'
        refusals.add("layers", "missing", "are missing", f"name them, innermost first, such as {example}")
        return ()
    layers = layers_like(like, cords, rules, wanted.thong_mm / profile.length_mm)
    if not any(isinstance(layer, AskedLayer) for layer in layers):
        refusals.add("layers", "nothing-open", f"no layer of {like.label} can be planned anew", "name layers")
    return layers


def _foundation(
    spec: PlanSpec, like: Whip | None, zero_mm: float, refusals: Refusals
) -> Foundation | KnownNone | None:
    shape = spec.foundation
    if shape is None:
        return like.foundation if like is not None else None
    if isinstance(shape, str):
        return NONE
    sizes = typed_sizes(shape, refusals, "foundation", spec.units)
    if "diameter_mm" not in sizes:
        refusals.add("foundation, diameter", "missing", "is missing", 'write it, or "none"')
        return None
    to_mm = sizes.get("to_mm")
    return Foundation(
        diameter_mm=sizes["diameter_mm"],
        to_mm=None if to_mm is None else max(to_mm + zero_mm, 0.0),
        material=shape.material,
    )
