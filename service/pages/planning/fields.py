"""The form of a plan as data of its page: what each field is called, what may be chosen, what is typed."""

from collections.abc import Mapping
from typing import Any, Final, get_args

from sqlalchemy.orm import Session

from plaitlog.models.planning.asked import Rules
from plaitlog.service.pages.planning.form import (
    layer_rows,
    place_unit,
    station_rows,
)
from plaitlog.service.preferences import preferences
from plaitlog.service.schemas.plan_spec import CORDS_AT_MOST, LAYERS_AT_MOST, PatternName
from plaitlog.service.usecases.planning.asking import GRID_MM
from plaitlog.service.usecases.planning.named_shapes import SHAPES
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import cords_by_name, makers

Texts = Mapping[str, str]
START: Final = {"way": "shape", "layers": "2", "stations": "4", "l1_role": "core", "l2_role": "overlay"}
NAMES: Final = {
    "label": "Name of the plan",
    "maker": "Maker",
    "type": "Type of whip",
    "pattern": "Ready pattern",
    "thong_length": "Length of the thong",
    "handle_length": "Length of the handle",
    "handle_diameter": "Diameter of the finished handle",
    "transition": "Length of the transition",
    "rod": "Foundation",
    "rod_diameter": "Diameter of the rod",
    "rod_to": "The rod ends at",
    "rod_material": "Material of the rod",
    "datum": "Places are counted from",
    "way": "What is wanted",
    "taper": "Shape",
    "thick_end": "Diameter at the thick end",
    "point": "Diameter at the point",
    "parallel_thick": "Held parallel at the thick end",
    "parallel_point": "Held parallel at the point",
    "fullness": "Fullness, instead of a shape",
    "like": "Label of the recorded whip",
    "plait_least": "Fewest strands of a plait",
    "plait_most": "Most strands of a plait",
    "core_least": "Fewest strands of a core",
    "core_most": "Most strands of a core",
    "regular": "Counts with a regular pattern",
    "grid": "Strands are dropped on marks each",
    "core_spacing": "Between two drops of a core, at least",
    "plait_spacing": "Between two drops of a plait, at least",
    "apart": "Between drops of different layers, at least",
    "cover_least": "Least cover",
    "cover_most": "Most cover",
    "drop_cost": "What a drop in a plait costs",
    "irregular_cost": "What a metre at another count costs",
    "fit": "Number of the fit",
}
LAYER_NAMES: Final = {
    "role": "Layer",
    "cord": "Cord",
    "start": "Strands at the start",
    "ends": "Ends at",
    "fate": "Dropped strands",
    "share": "Share of its strands",
    "what": "What it is",
    "size": "Diameter",
    "thickness": "Thickness",
    "from": "From",
    "to": "To",
}
WAYS: Final = (
    ("shape", "a named shape"),
    ("stations", "diameters at places"),
    ("like", "like a recorded whip"),
    ("pair", "the matched pair of a recorded whip"),
)
ROLES: Final = ("core", "belly", "bolster", "binding", "overlay")


def form_data(session: Session, token: str, typed: Texts, shown: ShownUnits) -> dict[str, Any]:
    """All that the form shows; what was never typed is empty."""
    rules = Rules()
    length, size = shown.length, shown.diameter
    return {
        "token": token,
        "typed": dict(typed),
        "names": NAMES,
        "layer_names": LAYER_NAMES,
        "layer_rows": list(range(1, layer_rows(typed) + 1)),
        "station_rows": list(range(1, station_rows(typed) + 1)),
        "more_cords": list(range(2, CORDS_AT_MOST + 1)),
        "patterns": [["", "none"], *([name, name] for name in get_args(PatternName))],
        "shapes": [["", "even"], *([shape, shape] for shape in SHAPES if shape != "even")],
        "ways": [list(way) for way in WAYS],
        "roles": [["", "left out"], *([role, role] for role in ROLES)],
        "makers": makers(session),
        "cords": list(cords_by_name(session)),
        "lengths": place_unit(shown),
        "diameters": shown.diameters,
        "thong_unit": shown.lengths,
        "usual": {
            "plait_least": f"{rules.plait_counts[0]}",
            "plait_most": f"{rules.plait_counts[1]}",
            "core_least": f"{rules.core_counts[0]}",
            "core_most": f"{rules.core_counts[1]}",
            "regular": ", ".join(map(str, rules.regular)),
            "grid": length(GRID_MM["in" if shown.lengths in ("in", "ft") else "mm"]),
            "core_spacing": length(rules.core_spacing_mm),
            "plait_spacing": length(rules.plait_spacing_mm),
            "apart": length(rules.apart_mm),
            "cover_least": f"{rules.cover[0]:g}",
            "cover_most": f"{rules.cover[1]:g}",
            "drop_cost": f"{rules.drop_cost:g}",
            "irregular_cost": f"{rules.irregular_cost:g}",
        },
        "example_size": size(14.0),
        "example_place": length(304.8 if shown.lengths in ("in", "ft") else 300.0),
    }


def proposed(given: Texts) -> dict[str, str]:
    """The form as it is shown first, with what the address says."""
    maker = preferences().maker
    found = {**START, **({"maker": maker} if maker else {})}
    if "like" in given or "pair" in given:
        found["way"] = "like" if "like" in given else "pair"
        found["like"] = given.get("like") or given["pair"]
        found["l1_role"], found["maker"] = "", ""
        return {**found, "l2_role": ""}
    if "pattern" in given:
        found["pattern"] = given["pattern"]
    if "cord" in given:
        found |= {"l1_cord": given["cord"], "l2_cord": given["cord"]}
    return found


def with_layer(typed: Texts) -> dict[str, str]:
    """One layer more, under the overlay where that is the last."""
    count = layer_rows(typed)
    if count >= LAYERS_AT_MOST:
        return dict(typed)
    found = {**typed, "layers": str(count + 1)}
    if typed.get(f"l{count}_role") != "overlay":
        return {**found, f"l{count + 1}_role": "overlay"}
    for key in list(found):
        if key.startswith(f"l{count}_"):
            found[key.replace(f"l{count}_", f"l{count + 1}_", 1)] = found.pop(key)
    return {**found, f"l{count}_role": "belly"}


def told_changes(before: Texts, after: Texts) -> list[str]:
    """Which fields are typed otherwise, in words."""
    said = []
    for key in dict.fromkeys([*before, *after]):
        old, new = before.get(key, "").strip(), after.get(key, "").strip()
        if old != new and (name := field_name(key)):
            said.append(f"{name}: {new or 'left open'}" + (f", not {old}" if old else ""))
    return said


def field_name(key: str) -> str:
    """What a field of the form is called, its layer or place with it; empty: it is not one that is typed."""
    if key in NAMES:
        return NAMES[key]
    head, _, inner = key.partition("_")
    if head[:1] == "l" and head[1:].isdecimal() and inner.rstrip("234") in LAYER_NAMES:
        return f"layer {head[1:]}, {LAYER_NAMES[inner.rstrip('234')].lower()}"
    for start, what in (("at", "place"), ("size", "diameter")):
        if key.startswith(start) and key[len(start) :].isdecimal():
            return f"{what} {key[len(start) :]}"
    return ""
