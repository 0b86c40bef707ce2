"""From the form of a plan to what is asked for (``PlanSpec``), and from its findings back to the fields."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from plaitlog.models.errors import Finding, InputError, UnitError
from plaitlog.models.notation.fate import parse_fate, print_fate
from plaitlog.models.planning.asked import Rules
from plaitlog.models.units import LengthUnit, parse_diameter, parse_length, parse_thickness
from plaitlog.service.schemas.plan_spec import CORDS_AT_MOST, LAYERS_AT_MOST, STATIONS_AT_MOST
from plaitlog.service.usecases.planning.named_shapes import PARALLEL, parallel_ends
from plaitlog.service.usecases.shown_units import ShownUnits

LENGTHS: Final = ("handle_length", "transition")
GIVEN: Final = ("bolster", "binding")
Texts = Mapping[str, str]


@dataclass
class Asked:
    """data : what is asked for. layers, stations : by their place there, from 1, the row of the form.

    wrong : by field what is wrong with it, found before anything was planned.
    """

    data: dict[str, Any] = field(default_factory=dict)
    layers: list[int] = field(default_factory=list)
    stations: list[int] = field(default_factory=list)
    wrong: dict[str, Finding] = field(default_factory=dict)


def rows(texts: Texts, name: str, at_most: int, least: int) -> int:
    """How many rows of a kind the form has."""
    typed = texts.get(name, "")
    return min(max(int(typed) if typed.isdecimal() and len(typed) < 4 else least, least), at_most)


def layer_rows(texts: Texts) -> int:
    return rows(texts, "layers", LAYERS_AT_MOST, 2)


def station_rows(texts: Texts) -> int:
    return rows(texts, "stations", STATIONS_AT_MOST, 4)


def place_unit(shown: ShownUnits) -> LengthUnit:
    """What a place is meant in where it has no unit: who reads feet reads inches on a tape."""
    return "in" if shown.lengths == "ft" else shown.lengths


def asked_in(texts: Texts, shown: ShownUnits) -> Asked:
    """What the form asks for; a number without a unit is meant in the units that are shown."""
    found = Asked()
    typed = {key: value.strip() for key, value in texts.items() if value.strip()}

    def length(key: str) -> str | None:
        return _with_unit(typed.get(key), place_unit(shown), parse_length)

    def size(key: str, read: Callable[[str], float] = parse_diameter) -> str | None:
        return _with_unit(typed.get(key), shown.diameters, read)

    found.data = _stated(
        **{key: typed.get(key) for key in ("label", "maker", "type", "pattern")},
        thong_length=_with_unit(typed.get("thong_length"), shown.lengths, parse_length),
        **{key: length(key) for key in LENGTHS},
        handle_diameter=size("handle_diameter"),
        datum=typed.get("datum"),
        fit=_whole(typed, "fit", found),
        foundation=_foundation(typed, size, length),
        target=_target(typed, size, length, found),
        rules=_rules(typed, length, found),
        layers=[
            layer
            for row in range(1, layer_rows(texts) + 1)
            if (layer := _layer(typed, row, shown, found)) is not None
        ],
    )
    return found


def field_of(finding: Finding, asked: Asked) -> str:
    """The field that a finding is about; "" where it is about the whole."""
    first, *more = finding.where.split(", ") if finding.where else [""]
    inner = more[0] if more else ""
    head, _, number = first.partition(" ")
    if finding.code.startswith("cord-") and head == "layers" and not inner:
        inner = "cord"
    match head:
        case "layers" if number.isdecimal() and int(number) <= len(asked.layers):
            row = asked.layers[int(number) - 1]
            several = re.fullmatch(r"cords (\d+)", inner)
            if several:
                return f"l{row}_{'share' if more[-1] == 'share' else 'cord'}{_nth(several[1])}"
            names = {"diameter": "size", "cords": "cord", "": "role"}
            return f"l{row}_{names.get(inner, inner)}"
        case "target":
            station = re.fullmatch(r"stations (\d+)", inner)
            if station and int(station[1]) <= len(asked.stations):
                return f"at{asked.stations[int(station[1]) - 1]}"
            names = {"": "way", "stations": "at1", "pair_of": "like"}
            return names.get(inner, inner)
        case "rules":
            names = {"plait_counts": "plait_most", "core_counts": "core_most", "cover": "cover_most"}
            return names.get(inner, inner)
        case "foundation":
            return f"rod_{inner or 'diameter'}"
    if finding.code in ("whip-not-found", "profile-unknown"):
        return "like"
    return "fit" if finding.code == "fit-not-found" else first


def _nth(number: str) -> str:
    return "" if number == "1" else number


def _stated(**values: Any) -> dict[str, Any]:
    return {key: value for key, value in values.items() if value not in (None, "", {}, [])}


def _with_unit(text: str | None, unit: str, read: Callable[[str], float]) -> str | None:
    """The text with the unit that is meant; what cannot be read is left as it is, to be refused in words."""
    if not text:
        return None
    try:
        read(text)
    except UnitError as error:
        return f"{text} {unit}" if error.finding.code == "unit-missing" else text
    return text


def _whole(typed: Texts, key: str, found: Asked) -> int | None:
    text = typed.get(key)
    if text is None:
        return None
    if text.isdecimal() and len(text) < 10:
        return int(text)
    found.wrong[key] = Finding("not-a-number", f"{text[:40]!r} is not a whole number", "write digits")
    return None


def _number(typed: Texts, key: str, found: Asked) -> float | None:
    text = typed.get(key)
    if text is None:
        return None
    if re.fullmatch(r"\d{1,6}([.,]\d{1,6})?", text):
        return float(text.replace(",", "."))
    found.wrong[key] = Finding("not-a-number", f"{text[:40]!r} is not a number", "write it like 0.5")
    return None


def _foundation(typed: Texts, size: Callable[[str], str | None], length: Callable[[str], str | None]) -> Any:
    rod = _stated(diameter=size("rod_diameter"), to=length("rod_to"), material=typed.get("rod_material"))
    return rod or ("none" if typed.get("rod") == "none" else None)


def _target(
    typed: Texts, size: Callable[[str], str | None], length: Callable[[str], str | None], found: Asked
) -> dict[str, Any]:
    held = {key: length(key) for key in ("parallel_thick", "parallel_point")}
    match typed.get("way", "shape"):
        case "like":
            return _stated(like=_label(typed, found), **held)
        case "pair":
            return _stated(pair_of=_label(typed, found), **held)
        case "stations":
            pairs = []
            for row in range(1, station_rows(typed) + 1):
                place, wide = length(f"at{row}"), size(f"size{row}")
                if place is None and wide is None:
                    continue
                if place is None or wide is None:
                    empty = f"at{row}" if place is None else f"size{row}"
                    found.wrong[empty] = Finding("missing", "is missing", "write it, or empty the row")
                    continue
                pairs.append([place, wide])
                found.stations.append(row)
            if len(pairs) < 2 and not found.wrong:
                found.wrong["at1"] = Finding("stations", "two stations at least are needed", "write them")
            return _stated(stations=pairs if len(pairs) > 1 else None, **held)
    thick, point, taper = size("thick_end"), size("point"), typed.get("taper")
    if taper == PARALLEL:
        taper = "even"
        try:
            thick, point = parallel_ends(thick or "", point or "")
        except InputError as error:
            found.wrong[field_of(error.finding, found) or "thick_end"] = error.finding
    return _stated(
        taper=taper, fullness=_number(typed, "fullness", found), thick_end=thick, point=point, **held
    )


def _label(typed: Texts, found: Asked) -> str | None:
    if "like" not in typed:
        found.wrong["like"] = Finding("missing", "is missing", "write the label of a recorded whip")
    return typed.get("like")


def _layer(typed: Texts, row: int, shown: ShownUnits, found: Asked) -> dict[str, Any] | None:
    def text(key: str) -> str | None:
        return typed.get(f"l{row}_{key}")

    keys = [key for key in typed if key.startswith(f"l{row}_") and key != f"l{row}_role"]
    role = text("role")
    if role is None or not keys:
        if role is None and keys:
            found.wrong[f"l{row}_role"] = Finding("missing", "is missing", "choose what the layer is")
        return None
    found.layers.append(row)
    several = [(text(f"cord{n}"), f"l{row}_share{n}") for n in range(2, CORDS_AT_MOST + 1)]
    cords: list[dict[str, Any]] = []
    if any(name for name, _ in several):
        first = [(text("cord"), f"l{row}_share")]
        cords = [
            _stated(cord=name, share=_number(typed, share, found))
            for name, share in [*first, *several]
            if name
        ]
    return _stated(
        role=role,
        cord=None if cords else text("cord"),
        cords=cords,
        start=_whole(typed, f"l{row}_start", found),
        ends=_with_unit(text("ends"), place_unit(shown), parse_length),
        fate=_fate(text("fate"), shown),
        diameter=_with_unit(text("size"), shown.diameters, parse_diameter),
        thickness=_with_unit(text("thickness"), shown.diameters, parse_thickness),
        **{"from": _with_unit(text("from"), place_unit(shown), parse_length)},
        to=_with_unit(text("to"), place_unit(shown), parse_length),
        what=text("what"),
    )


def _fate(text: str | None, shown: ShownUnits) -> str | None:
    """With the unit that is meant: a tuck of 3 is one of 3 in where lengths are shown in inches."""
    if text is None:
        return None
    try:
        return print_fate(parse_fate(text, place_unit(shown)), "mm", with_unit=True)
    except InputError:
        return text


def _rules(typed: Texts, length: Callable[[str], str | None], found: Asked) -> dict[str, Any]:
    usual = Rules()

    def range_of(name: str, read: Callable[[Texts, str, Asked], Any], otherwise: Any) -> list[Any] | None:
        ends = [read(typed, f"{name}_{end}", found) for end in ("least", "most")]
        if ends == [None, None]:
            return None
        return [usually if end is None else end for end, usually in zip(ends, otherwise, strict=True)]

    regular = typed.get("regular")
    counts = None if regular is None else re.findall(r"\d+", regular)
    if regular is not None and not re.fullmatch(r"[\d\s,;]+", regular):
        found.wrong["regular"] = Finding("not-a-number", f"{regular[:40]!r}", "write counts: 16, 12, 8")
        counts = None
    return _stated(
        **{key: length(key) for key in ("grid", "core_spacing", "plait_spacing", "apart")},
        plait_counts=range_of("plait", _whole, usual.plait_counts),
        core_counts=range_of("core", _whole, usual.core_counts),
        cover=range_of("cover", _number, usual.cover),
        regular=None if counts is None else [int(one) for one in counts if len(one) < 4],
        drop_cost=_number(typed, "drop_cost", found),
        irregular_cost=_number(typed, "irregular_cost", found),
    )
