"""The layers of a plan: as they are asked for, or as they lie in a recorded whip."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from plaitlog.models.errors import Finding, InputError, StackNotKnownError
from plaitlog.models.notation.fate import parse_fate
from plaitlog.models.planning.asked import AskedLayer, Rules
from plaitlog.models.planning.shares import CordShare
from plaitlog.models.whip import Cord, Fate, Layer, Role, Whip
from plaitlog.service.schemas.plan_spec import PlannedLayerShape
from plaitlog.service.usecases.from_records import Refusals
from plaitlog.service.usecases.names import cord_meant
from plaitlog.service.usecases.planning.like_profile import scaled, scaled_fate
from plaitlog.service.usecases.planning.ready_patterns import ReadyPattern
from plaitlog.service.usecases.planning.typed_sizes import POINT, Declared, said, typed_sizes

TUCK_MM: Final = {"mm": 80.0, "in": 76.2}
"""How far a plait's dropped strand is tucked where nothing is said (common practice: 2 to 4 in), by the unit
that lengths are in."""
ALMOST: Final = 1e-6
MOST_STEPS: Final = 20
"""An end is moved by fewer steps of the grid than this."""
LONGEST_TUCK_MM: Final = 304.8
"""A foot (own choice)."""
GIVEN_ROLES: Final = ("core", "bolster", "binding")
Layers = tuple[AskedLayer | Layer, ...]


def usual_fate(role: Role, cord: Cord, unit: str = "mm") -> Fate:
    """What becomes of dropped strands where nothing is said (common practice, no source)."""
    if role == "core":
        return Fate("cut")
    return Fate("tuck", TUCK_MM[unit], gutted=cord.construction == "cored")


def asked_layers(
    shapes: Sequence[PlannedLayerShape],
    cords: Mapping[str, Cord],
    refusals: Refusals,
    *,
    declared: Declared | None,
    unit: str,
    zero_mm: float,
    thong_mm: float,
    pattern: ReadyPattern | None,
) -> Layers:
    """Layers as they are typed; ``zero_mm`` is the datum of the text, counted from the handle end; ``unit``:
    what lengths are told in, mm or in."""
    found: list[AskedLayer | Layer] = []
    for number, shape in enumerate(shapes, start=1):
        where = f"layers {number}"
        sizes = typed_sizes(shape, refusals, where, declared)
        for key in ("ends_mm", "from_mm", "to_mm"):
            if key in sizes:
                sizes[key] = round(max(sizes[key] + zero_mm, 0.0), 6)
        if "diameter_mm" in sizes or "thickness_mm" in sizes:
            found += _given(shape, sizes, where, refusals)
            continue
        turn = sum(one.role == shape.role for one in shapes[:number])
        try:
            found.append(_planned(shape, sizes, cords, declared, unit, turn, thong_mm, pattern))
        except InputError as error:
            refusals.take(where, error)
    return tuple(found)


def _given(
    shape: PlannedLayerShape, sizes: Mapping[str, float], where: str, refusals: Refusals
) -> list[Layer]:
    strands = [
        name for name in ("cord", "cords", "start", "fate", "ends") if getattr(shape, name) is not None
    ]
    if shape.role not in GIVEN_ROLES:
        refusals.add(where, "given-size", f"a {shape.role} is strands of a cord", "name its cord")
    elif strands or "ends_mm" in sizes:
        refusals.add(
            where,
            "given-size",
            f"{(*strands, 'ends')[0]} stands beside a size",
            "give either a cord, or a size with from and to",
        )
    elif "diameter_mm" in sizes and "thickness_mm" in sizes:
        refusals.add(where, "given-size", "diameter and thickness are both given", "leave one out")
    else:
        return [replace(Layer(role=shape.role, what=shape.what), **dict[str, Any](sizes))]
    return []


def _planned(
    shape: PlannedLayerShape,
    sizes: Mapping[str, float],
    cords: Mapping[str, Cord],
    declared: Declared | None,
    unit: str,
    turn: int,
    thong_mm: float,
    pattern: ReadyPattern | None,
) -> AskedLayer:
    if shape.role in ("bolster", "binding"):
        raise _wrong("missing", f"the size of a {shape.role} is missing", "give thickness or diameter")
    if "from_mm" in sizes or "to_mm" in sizes:
        raise _wrong("given-size", "from and to belong to a layer with a size", 'write "ends"')
    mixed = _mixed(shape, cords)
    cord = mixed[0].cord
    if shape.role != "core" and shape.start is not None and shape.start % 2:
        raise InputError(
            Finding("odd-count", f"{shape.start} strands in a plait are odd", "strands go in pairs", "start")
        )
    _check_shares(shape, mixed)
    try:
        fate = usual_fate(shape.role, cord, unit) if shape.fate is None else parse_fate(shape.fate, declared)
    except InputError as error:
        raise InputError(error.finding.at("fate")) from error
    if (fate.length_mm or 0.0) > LONGEST_TUCK_MM:
        text = f"a tuck of {said(fate.length_mm or 0.0, unit)}"
        raise _wrong("absurd", text, f"at most {said(LONGEST_TUCK_MM, unit)}", "fate")
    to_point = shape.ends is not None and shape.ends.strip().casefold() == POINT
    ends = sizes.get("ends_mm")
    if ends is not None and ends >= thong_mm:
        text = f"it ends at {said(ends, unit)}, the thong is {said(thong_mm, unit)}"
        raise _wrong("ends", text, 'write "point"', "ends")
    if ends is not None and shape.role == "overlay":
        raise _wrong("ends", "the overlay runs to the point", 'leave it out, or write "point"', "ends")
    if ends is None and not to_point and pattern is not None and shape.role != "overlay":
        ends = pattern.end_mm(shape.role, turn, thong_mm)
    return AskedLayer(
        role=shape.role,
        cord=cord,
        start=shape.start,
        ends=POINT if to_point else ends,
        fate=fate,
        mixed=mixed if len(mixed) > 1 else (),
    )


def _mixed(shape: PlannedLayerShape, cords: Mapping[str, Cord]) -> tuple[CordShare, ...]:
    """The cords of a layer with their shares, the first of them alone where it is one."""
    if shape.cord is not None and shape.cords is not None:
        raise _wrong("cord-twice", "the layer has cord and cords", "keep one of them", "cords")
    if shape.cord is not None:
        return (CordShare(cord_meant(shape.cord, cords)),)
    if shape.cords is None:
        raise InputError(Finding("missing", "is missing", "write the name of a cord", "cord"))
    found = tuple(CordShare(cord_meant(one.cord, cords), one.share or 1.0) for one in shape.cords)
    if len({one.cord.name for one in found}) < len(found):
        text = "a cord is listed twice; colours of one cord are planned as that cord"
        raise _wrong("cord-twice", text, "list it once, with the share of all its strands", "cords")
    return found


def _check_shares(shape: PlannedLayerShape, mixed: Sequence[CordShare]) -> None:
    """Shares that are meant as strands of a plait, such as 9 and 7 of 16, are odd."""
    shares = [one.share for one in mixed]
    if shape.role != "core" and shape.start == sum(shares) and any(share % 2 for share in shares):
        found = " and ".join(f"{share:g}" for share in shares)
        text = f"{found} strands of a cord in a plait are odd"
        raise _wrong("odd-count", text, "strands go in pairs: write even numbers", "cords")


def layers_like(whip: Whip, cords: Mapping[str, Cord], rules: Rules, factor: float) -> Layers:
    """The layers of a recorded whip (places from the handle end), to be planned anew from the same cords,
    starts and ends, at places times ``factor``; a layer that cannot be is taken as it was, and ends of others
    keep off its drops.

    Raises
    ------
    StackNotKnownError
        Where a strand schedule or a cord is not noted.
    """
    found = [_like(whip, slot, layer, cords, rules, factor) for slot, layer in enumerate(whip.layers, 1)]
    drops = [
        step.place.mid_mm
        for layer in found
        if isinstance(layer, Layer) and layer.schedule is not None
        for step in layer.schedule.steps[1:]
    ]
    return tuple(
        replace(layer, ends=_beside(layer.ends, drops, rules))
        if isinstance(layer, AskedLayer) and isinstance(layer.ends, float)
        else layer
        for layer in found
    )


def _beside(ends_mm: float, drops_mm: Sequence[float], rules: Rules) -> float:
    """The node of the grid nearest to where a layer ended that keeps off drops settled already."""
    apart, node = max(rules.apart_mm, rules.grid_mm) - ALMOST, round(ends_mm / rules.grid_mm)
    nodes = [rules.place_mm(node + step * side) for step in range(MOST_STEPS) for side in (1, -1)]
    free = (at for at in nodes if all(abs(at - drop) >= apart for drop in drops_mm))
    return next(free, ends_mm)


def _like(
    whip: Whip, slot: int, layer: Layer, cords: Mapping[str, Cord], rules: Rules, factor: float
) -> AskedLayer | Layer:
    if layer.diameter_mm is not None or layer.thickness_mm is not None:
        return scaled(layer, factor)
    if layer.schedule is None or not layer.schedule.steps or not layer.cords:
        raise StackNotKnownError(
            Finding(
                "layer-unknown",
                f"cord or strands of layer {slot} ({layer.role}) of {whip.label} are not noted",
                "name the layers of the plan",
                "layers",
            )
        )
    steps = layer.schedule.steps
    singly = layer.role == "core"
    begins = [one.mid for one in steps[0].counts]
    by_pairs = singly or len(begins) == 1 or not any(one % 2 for one in begins)
    if (
        layer.role in ("bolster", "binding")
        or steps[0].place.mid_mm > 0
        or not by_pairs
        or (begins[1:] and 0 in begins)
    ):
        return scaled(layer, factor)
    named = [cord_meant(one.cord, cords) for one in layer.cords]
    count = round(steps[0].total.mid)
    least, most = rules.core_counts if singly else rules.plait_counts
    whole = steps[0].total.exact and (singly or count % 2 == 0) and least <= count <= most
    ended = steps[-1].total.high == 0 and layer.role != "overlay" and steps[-1].place.kind != "not noted"
    fate = layer.fate or next((one.fate for one in steps if one.fate is not None), None)
    return AskedLayer(
        role=layer.role,
        cord=named[0],
        mixed=tuple(map(CordShare, named, begins)) if len(named) > 1 else (),
        start=count if whole else None,
        ends=steps[-1].place.mid_mm * factor if ended else None if steps[-1].total.high == 0 else POINT,
        fate=scaled_fate(fate, factor) or usual_fate(layer.role, named[0]),
    )


def _wrong(code: str, text: str, remedy: str, where: str = "") -> InputError:
    return InputError(Finding(code, text, remedy, where))
