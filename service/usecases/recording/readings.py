"""Readings in the recording dialogue: one line of notation for one state of the whip."""

import re
from typing import Final

from plaitlog.models.notation import echo_readings, parse_readings
from plaitlog.models.whip import Layer
from plaitlog.service.usecases.recording.dialogue import Draft, Noted
from plaitlog.service.usecases.recording.layers import role_of
from plaitlog.service.usecases.shown_units import ShownUnits

_UNITS_FIRST: Final = re.compile(r"\s*(?:in|inch|inches|mm|cm)\b[^:;]*:", re.IGNORECASE)
_WORDS_FIRST: Final = re.compile(
    r"\s*(?=[a-z])(?!thick\b|mid|point\b|p\b)(?P<words>[^:;\d]*(?:\blayer\s+\d+|\bbelly\s+\d+)?[^:;\d]*|girth[^:;]*):",
    re.IGNORECASE,
)


def with_readings_head(line: str, typed_in: ShownUnits) -> str:
    """The line with its units stated: a head without units (``belly, fresh: ...``) gets them in front."""
    if _UNITS_FIRST.match(line):
        return line.strip()
    units = f"{typed_in.lengths} {typed_in.diameters}"
    words = _WORDS_FIRST.match(line)
    if words is None:
        return f"{units}: {line.strip()}"
    said = words["words"].strip(" ,")
    joined = f"{typed_in.lengths} {said}" if said.lower().startswith("girth") else f"{units}, {said}"
    return f"{joined}:{line[words.end() :]}"


def read_readings(typed: str, draft: Draft, typed_in: ShownUnits, point_mm: float | None) -> Noted:
    """A line such as ``0 each 6: 19.2/18.8 17.9 16.4`` or ``belly, fresh: 12: 13.9``."""
    layers = tuple(
        Layer(role=role_of(text, "core")[0])
        for key, text in draft.answers
        if key.startswith("layer.") and text
    )
    line = with_readings_head(typed, typed_in)
    parsed = parse_readings(line, layers=layers, point_mm=point_mm)
    echo = echo_readings(parsed.readings, parsed.unit, parsed.size_unit, layers=layers)
    return Noted({"readings_lines": [line]}, echo=echo, findings=parsed.findings)
