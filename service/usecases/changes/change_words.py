"""What a change did to a record, key by key, in words and in the units that are shown."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from plaitlog.service.usecases.changes.history import EntryInList
from plaitlog.service.usecases.shown_units import ShownUnits

AS_DIAMETERS: Final = ("diameter", "pressed", "flat_width", "thickness", "girth", "tape")
UNITS: Final = {"_g_per_cm3": " g/cm³", "_g_per_m": " g/m", "_mm": "", "_g": " g"}
SHORT: Final = 60
_TELLING: Final = ("at", "place", "diameter", "girth", "by", "on", "colour", "lot", "metres")
_OF: Final = {"stock": "stock of", "reading": "reading of", "rating": "rating of"}


def what_changed(entry: EntryInList, shown: ShownUnits) -> str:
    """Such as: whip 2026-014: weight from 412 g to 420 g; notes taken away."""
    name = f"{_OF.get(entry.kind, entry.kind)} {entry.name}"
    if entry.before is None:
        return f"{name} added{_told(entry, entry.after, shown)}"
    if entry.after is None:
        return f"{name} removed{_told(entry, entry.before, shown)}"
    return f"{name}: {'; '.join(_differences(entry.before, entry.after, shown)) or 'changed'}"


def _told(entry: EntryInList, record: Mapping[str, Any] | None, shown: ShownUnits) -> str:
    """What tells a reading, a rating or stock from others: it has no name."""
    if record is None or entry.kind not in _OF:
        return ""
    read = _as_read(record, shown)
    told = [f"{key} {_value(read[key], shown)}" for key in _TELLING if key in read]
    return f" ({', '.join(told)})" if told else ""


def _as_read(record: Mapping[str, Any], shown: ShownUnits) -> dict[str, Any]:
    """The record with each size once: as it was typed, else its number in the units shown."""
    found: dict[str, Any] = {}
    for key, value in record.items():
        unit = next((unit for unit in UNITS if key.endswith(unit)), "")
        stem = key.removesuffix(unit)
        if unit and isinstance(value, int | float):
            if stem not in record:
                found[stem] = _size(key, unit, value, shown)
        elif key != "kind":
            found[key] = value
    return found


def _size(key: str, unit: str, value: float, shown: ShownUnits) -> str:
    if unit != "_mm":
        return shown.number(f"{value:g}") + UNITS[unit]
    if any(word in key for word in AS_DIAMETERS):
        return shown.diameter(value)
    return shown.long_length(value) if key == "thong_length_mm" else shown.length(value)


def _differences(before: Mapping[str, Any], after: Mapping[str, Any], shown: ShownUnits) -> Iterator[str]:
    old_record, new_record = _as_read(before, shown), _as_read(after, shown)
    for key in {**old_record, **new_record}:
        old, new = old_record.get(key), new_record.get(key)
        name = key.replace("_", " ")
        if old == new:
            continue
        if old is None:
            yield f"{name} noted: {_value(new, shown)}"
        elif new is None:
            yield f"{name} taken away: {_value(old, shown)}"
        elif isinstance(old, dict) and isinstance(new, dict):
            yield f"{name}: {', '.join(_differences(old, new, shown))}"
        elif isinstance(old, list) and isinstance(new, list):
            yield f"{name} changed{_counts(old, new)}"
        else:
            yield f"{name} from {_value(old, shown)} to {_value(new, shown)}"


def _counts(old: list[Any], new: list[Any]) -> str:
    return f" ({len(old)} before, {len(new)} now)" if len(old) != len(new) else ""


def _value(value: Any, shown: ShownUnits) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return shown.number(f"{value:g}")
    if isinstance(value, list):
        simple = ", ".join(str(one) for one in value if not isinstance(one, list | dict))
        return simple if simple and len(simple) <= SHORT else f"({len(value)})"
    if isinstance(value, dict):
        parts = _as_read(value, shown)
        text = ", ".join(f"{key.replace('_', ' ')} {_value(one, shown)}" for key, one in parts.items())
    else:
        text = " ".join(str(value).split())
    return text if len(text) <= SHORT else f"{text[: SHORT - 3]}..."
