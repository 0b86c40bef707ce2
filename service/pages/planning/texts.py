"""A file that says what is wanted of a plan (JSON or TOML, or a plan.json), as texts of the form."""

from collections.abc import Mapping, Sequence
from typing import Any

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.pages.forms import SentFile
from plaitlog.service.schemas.plan_spec import spec_from
from plaitlog.service.usecases.planning.spec_file import LIMIT_BYTES, spec_data

PLAIN = ("label", "maker", "type", "pattern", "datum", "fit")
SIZED = ("thong_length", "handle_length", "handle_diameter", "transition")
OF_TARGET = ("thick_end", "point", "parallel_thick", "parallel_point")
OF_LAYER = {"size": "diameter", "thickness": "thickness", "from": "from", "to": "to", "ends": "ends"}
OF_RULES = ("grid", "core_spacing", "plait_spacing", "apart")


def texts_in_files(files: Sequence[SentFile]) -> dict[str, str]:
    """What the first file asks for.

    Raises
    ------
    InputError
        Where there is none, or it cannot be read as a plan.
    """
    if not files:
        raise InputError(Finding("missing", "no file was sent", "choose one"))
    data = spec_data(files[0].stream.read(LIMIT_BYTES + 1), files[0].name or "the file")
    return texts_of(data.get("spec", data))


def texts_of(data: Mapping[str, Any]) -> dict[str, str]:
    """The texts that ask for the same; what is wrong with it is refused here, with its key."""
    spec_from(dict(data))
    unit = data.get("units") or ""
    target, rules, rod = data.get("target") or {}, data.get("rules") or {}, data.get("foundation")
    found = {key: str(data[key]) for key in PLAIN if data.get(key) is not None}
    found.update({key: _size(data, key, unit) for key in SIZED})
    found.update({key: _size(target, key, unit) for key in OF_TARGET})
    found.update({key: _size(rules, key, unit) for key in OF_RULES})
    found.update({key: f"{target[key]:g}" for key in ("fullness",) if target.get(key) is not None})
    found.update({key: f"{rules[key]:g}" for key in ("drop_cost", "irregular_cost") if rules.get(key)})
    found["taper"] = target.get("taper") or ""
    for key, name in (("plait_counts", "plait"), ("core_counts", "core"), ("cover", "cover")):
        if rules.get(key):
            found[f"{name}_least"], found[f"{name}_most"] = (f"{one:g}" for one in rules[key])
    if rules.get("regular"):
        found["regular"] = ", ".join(map(str, rules["regular"]))
    if rod == "none":
        found["rod"] = "none"
    elif rod:
        found |= {"rod_diameter": _size(rod, "diameter", unit), "rod_to": _size(rod, "to", unit)}
        found["rod_material"] = rod.get("material") or ""
    found |= _way(target, unit)
    layers = data.get("layers") or []
    found["layers"] = str(max(len(layers), 2))
    for number in range(1, max(len(layers), 2) + 1):
        found[f"l{number}_role"] = ""
    for number, layer in enumerate(layers, start=1):
        found |= {f"l{number}_{key}": text for key, text in _layer(layer, unit).items()}
    return {key: text for key, text in found.items() if text or key.endswith("_role")}


def _size(data: Mapping[str, Any], key: str, unit: str) -> str:
    """As typed, with the unit that the file declares where it has none; else the number in mm."""
    text = data.get(key)
    if text is not None:
        return f"{text} {unit}" if unit and text.strip()[-1:].isdigit() else str(text)
    number = data.get(f"{key}_mm")
    return "" if number is None else f"{number:g} mm"


def _way(target: Mapping[str, Any], unit: str) -> dict[str, str]:
    if target.get("like") or target.get("pair_of"):
        return {
            "way": "like" if target.get("like") else "pair",
            "like": target.get("like") or target["pair_of"],
        }
    pairs = target.get("stations") or [
        [f"{at:g} mm", f"{mm:g} mm"] for at, mm in target.get("stations_mm") or []
    ]
    if not pairs:
        return {"way": "shape"}
    found = {"way": "stations", "stations": str(len(pairs))}
    for row, (at, size) in enumerate(pairs, start=1):
        found |= {f"at{row}": _size({"at": at}, "at", unit), f"size{row}": size}
    return found


def _layer(layer: Mapping[str, Any], unit: str) -> dict[str, str]:
    found = {key: str(layer[key]) for key in ("role", "start", "fate", "what") if layer.get(key) is not None}
    cords = layer.get("cords") or ([{"cord": layer["cord"]}] if layer.get("cord") else [])
    for place, one in enumerate(cords, start=1):
        number = "" if place == 1 else str(place)
        found[f"cord{number}"] = one["cord"]
        if one.get("share") is not None:
            found[f"share{number}"] = f"{one['share']:g}"
    found |= {name: text for name, key in OF_LAYER.items() if (text := _size(layer, key, unit))}
    return found
