"""The layers of a whip as one types them: a line each, in notation; and the record that lines mean.

A line that says what it said keeps its layer as it is recorded, with all that a line does not say.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from plaitlog.models.errors import Finding, InputError, RecordError
from plaitlog.models.notation import parse_schedule
from plaitlog.models.whip import ROLES, Layer, Role, Whip
from plaitlog.service.usecases.describing import notation
from plaitlog.service.usecases.recording.layers import letters_of, read_layer, role_of, with_head
from plaitlog.service.usecases.recording.proposals import letters_of_whip
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.to_layer_records import layer_record

LETTERS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
LAYERS_AT_MOST: Final = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedLayer:
    """One line. ``was``: place (from 1) of the recorded layer that it stands for, None where it is new.

    ``lot`` is that of a layer's only cord.
    """

    line: str
    lot: str = ""
    notes: str = ""
    was: int | None = None


@dataclass(frozen=True, slots=True)
class ReadLine:
    """What a line means: its record, in words, and what is remarkable; or why it cannot be read."""

    record: dict[str, Any] | None
    echo: str = ""
    findings: tuple[Finding, ...] = ()
    error: Finding | None = None


def typed_layers(whip: Whip, shown: ShownUnits) -> list[TypedLayer]:
    """The layers as they are recorded, a line each; cords go by the letters of ``letters``."""
    by_cord = {cord: letter for letter, cord in letters(whip).items()}
    return [
        TypedLayer(
            line=layer_line(layer, by_cord, shown),
            lot=(layer.cords[0].lot or "") if len(layer.cords) == 1 else "",
            notes=layer.notes or "",
            was=place,
        )
        for place, layer in enumerate(whip.layers, start=1)
    ]


def letters(whip: Whip) -> dict[str, str]:
    """The cords of a whip by letter: as noted, else in the order in which they occur."""
    return letters_of_whip(whip)


def layer_line(layer: Layer, letter_of: Mapping[str, str], shown: ShownUnits) -> str:
    """``overlay 16A; 30: -2; p``, or ``binding 0.2 mm thread from 0 in to 40 in``."""
    if layer.schedule is not None and layer.schedule.steps:
        cords = tuple(replace(cord, letter=letter_of.get(cord.cord)) for cord in layer.cords)
        unit, line = notation(replace(layer, cords=cords), shown)
        return f"{layer.role} {line.removeprefix(f'{unit}: ') if unit == shown.lengths else line}"
    size = "" if layer.diameter_mm is None else shown.diameter(layer.diameter_mm)
    if layer.thickness_mm is not None:
        size = f"{layer.thickness_mm:g} mm"
    begin = "" if layer.from_mm is None else f"from {shown.length(layer.from_mm)}"
    end = "" if layer.to_mm is None else f"to {shown.length(layer.to_mm)}"
    return " ".join(filter(None, (layer.role, size, layer.what, begin, end)))


def read_line(typed: TypedLayer, whip: Whip, named: Mapping[str, str], shown: ShownUnits) -> ReadLine:
    """One line with the cords that its letters name."""
    role, rest = role_of(typed.line, "overlay")
    more = {"notes": typed.notes} if typed.notes else {}
    if not rest and typed.line.strip():
        return ReadLine({"role": role, **more}, f"{role}: its strands are not noted")
    try:
        noted = read_layer(typed.line, _proposed(typed, whip), shown, named, whip.point_mm)
        record = dict(noted.whip["layers"][0])
        record |= _cords(record, typed, whip, named)
    except InputError as error:
        return ReadLine(None, error=error.finding)
    return ReadLine({**record, **more}, noted.echo, noted.findings)


def _proposed(typed: TypedLayer, whip: Whip) -> Role:
    """The role of a line that names none: that of the layer it stands for, else the outermost."""
    if typed.was is not None and typed.was <= len(whip.layers):
        return whip.layers[typed.was - 1].role
    return ROLES[-1]


def _cords(
    record: Mapping[str, Any], typed: TypedLayer, whip: Whip, named: Mapping[str, str]
) -> dict[str, Any]:
    """The cords of a line of strands by name, with their lots."""
    if "strands" not in record:
        return {}
    line = record["strands"]
    used = letters_of(line)
    unknown = [letter for letter in used if letter not in named]
    if unknown:
        text = f"the letter {unknown[0]} names no cord"
        raise InputError(Finding("letter-unknown", text, "choose its cord below the layers"))
    if len(used) == 1:
        return {"cord": named[used[0]], **({"lot": typed.lot} if typed.lot else {})}
    if not used:
        return {}
    old = whip.layers[typed.was - 1].cords if typed.was else ()
    lots = {cord.cord: cord.lot for cord in old if cord.lot is not None}
    parsed = parse_schedule(line, letters=dict(named), point_mm=whip.point_mm)
    return {
        "cords": [
            {"cord": x.cord, "share": x.share, **({"lot": lots[x.cord]} if x.cord in lots else {})}
            for x in parsed.cords
        ]
    }


def layers_changes(
    typed: Sequence[TypedLayer],
    named: Mapping[str, str],
    complete: bool | None,
    whip: Whip,
    shown: ShownUnits,
) -> dict[str, Any]:
    """What lines, letters and the answer whether these are all the layers change of a whip's record.

    Raises
    ------
    RecordError
        With every line that is to be mended, ``where`` its place.
    """
    lines = [one for one in typed if one.line.strip()][:LAYERS_AT_MOST]
    before = typed_layers(whip, shown)
    same_letters = all(named.get(letter) == cord for letter, cord in letters(whip).items())
    records, wrong, kept = [], [], []
    for place, one in enumerate(lines, start=1):
        old = before[one.was - 1] if one.was is not None and one.was <= len(before) else None
        unchanged = old is not None and replace(old, was=one.was) == one and same_letters
        kept.append(unchanged and one.was == place)
        if unchanged and one.was is not None:
            records.append(layer_record(whip.layers[one.was - 1]))
            continue
        read = read_line(one, whip, named, shown)
        if read.record is None:
            assert read.error is not None
            wrong.append(read.error.at(f"layer {place}"))
        else:
            records.append(read.record)
    if wrong:
        raise RecordError(*wrong)
    changes: dict[str, Any] = {}
    if not (all(kept) and len(kept) == len(whip.layers)):
        changes["layers"] = records or None
        used = {letter for one in lines for letter in letters_of(with_head(one.line, shown.lengths))}
        wanted = {letter: cord for letter, cord in named.items() if letter in used}
        if wanted or whip.layers:
            changes["letters"] = wanted or None
    if complete != whip.layers_complete:
        changes["layers_complete"] = complete
    return changes
