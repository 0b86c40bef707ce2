"""Layers in the recording dialogue: one line each, in line notation or as a given size."""

import re
from collections.abc import Mapping
from typing import Any, Final

from plaitlog.models import units
from plaitlog.models.notation import echo_schedule, parse_schedule
from plaitlog.models.whip import ROLES, Role
from plaitlog.service.usecases.recording.answers import leading_size, taken_places, with_unit
from plaitlog.service.usecases.recording.dialogue import Noted, mend
from plaitlog.service.usecases.shown_units import ShownUnits

PLAITED: Final = ("belly", "overlay")
_ROLE: Final = re.compile(
    r"\s*(?:second\s+)?(core|belly|bolster|binding|overlay)\b\s*[:,]?\s*", re.IGNORECASE
)
_HEAD: Final = re.compile(r"\s*(?:in|inch|inches|mm|cm)\s*:", re.IGNORECASE)
_LETTER: Final = re.compile(r"(?:(?<![A-Za-z0-9.,/])|(?<=\.\.))[-+=]?\s?\d{1,4}([A-Za-ln-z])(?![A-Za-z0-9])")
_SIZE_WITH_UNIT: Final = re.compile(r"[\d\s.,/½¼¾-]+(?:mm|cm|in|inch|thou|\"|'')", re.IGNORECASE)


def role_of(typed: str, proposed: Role) -> tuple[Role, str]:
    """The role a line names (the proposed one where it names none) and the rest of the line."""
    found = _ROLE.match(typed)
    if found is None:
        return proposed, typed.strip()
    role: Role = next(role for role in ROLES if role == found[1].lower())
    return role, typed[found.end() :].strip()


def letters_of(line: str) -> tuple[str, ...]:
    """The cords' letters that a line of notation uses, in order of appearance."""
    return tuple(dict.fromkeys(letter.upper() for letter in _LETTER.findall(line)))


def with_head(line: str, unit: str) -> str:
    """The line with the head that declares its unit, the given one where it has none."""
    return line if _HEAD.match(line) else f"{unit}: {line}"


def is_given(role: Role, rest: str) -> bool:
    """Whether a line states a size with its unit instead of strands."""
    return role not in PLAITED and _HEAD.match(rest) is None and _SIZE_WITH_UNIT.match(rest) is not None


def read_layer(
    typed: str, proposed: Role, typed_in: ShownUnits, letters: Mapping[str, str], point_mm: float | None
) -> Noted:
    """One layer: ``core 13A; 2 1/2: -1 each 2 1/2 to 0 cut`` or ``binding 0.2 mm thread from 0 to 40``."""
    role, rest = role_of(typed, proposed)
    if not rest:
        raise mend("no-layer", f"nothing after {role!r}", "write its strands, like 16A; 30: -2; p")
    if is_given(role, rest):
        return _given(role, rest, typed_in)
    line = with_head(rest, typed_in.lengths)
    names = {letter: letters.get(letter, f"cord {letter}") for letter in letters_of(line)}
    parsed = parse_schedule(line, letters=names, point_mm=point_mm)
    layer: dict[str, Any] = {"role": role, "strands": line}
    words = echo_schedule(parsed.schedule, typed_in.lengths, cords=parsed.cords, fate=parsed.fate)
    for letter, name in names.items():
        if letter not in letters:
            words = words.replace(f" ({name})", "")
    return Noted(
        {"layers": [layer]}, answer=f"{role} {rest}", echo=f"{role}: {words}", findings=parsed.findings
    )


def _given(role: Role, rest: str, typed_in: ShownUnits) -> Noted:
    first, after = leading_size(rest)
    assert first is not None
    places, what = taken_places(after, typed_in.lengths)
    layer: dict[str, Any] = {"role": role}
    if role == "core":
        layer["diameter"] = with_unit(first, typed_in.diameters, units.DIAMETER)[0]
    else:
        layer["thickness"] = with_unit(first, typed_in.diameters, units.THICKNESS)[0]
    layer.update(places)
    if what:
        layer["what"] = what
    size = "diameter" if role == "core" else "thick"
    span = " ".join(f"{word} {place}" for word, place in places.items()) or "over its whole length"
    return Noted(
        {"layers": [layer]},
        answer=f"{role} {rest}",
        echo=f"{role}: {first} {size}{', ' + what if what else ''}, {span}",
    )
