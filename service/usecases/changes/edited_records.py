"""A record with changes applied: keys given replace, null erases, what belongs together goes together."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from pydantic import TypeAdapter, ValidationError

from plaitlog.models.errors import Finding, RecordError, StaleEditError, nearest_or
from plaitlog.service.schemas.cords import CordRecord, MakerRecord, StockRecord
from plaitlog.service.schemas.ratings import RatingRecord
from plaitlog.service.schemas.readings import ReadingRecord
from plaitlog.service.schemas.refusals import findings_of, record_from
from plaitlog.service.schemas.values import Shape
from plaitlog.service.schemas.whips import WhipRecord
from plaitlog.service.usecases.json_lines import unstorable


@dataclass(frozen=True, slots=True)
class Edited:
    """What an edit or a removal made of a record.

    Attributes
    ----------
    number : that of the change; None where nothing changed.
    version : the record's version now; of what was removed, the last one it had.
    record : as in a JSON Lines file, after an edit; as it was, after a removal.
    before : the record as it was.
    findings : what is worth a look though it was taken.
    """

    number: int | None
    version: int
    record: dict[str, Any]
    before: dict[str, Any]
    findings: tuple[Finding, ...] = ()


SHAPES: Final[Mapping[str, type[Shape]]] = {
    "maker": MakerRecord,
    "cord": CordRecord,
    "stock": StockRecord,
    "whip": WhipRecord,
    "reading": ReadingRecord,
    "rating": RatingRecord,
}

_ONE_BY_ONE: Final = ("readings", "readings_text")
_OF_A_DIAMETER: Final = ("diameter_mm", "diameter")
_OF_A_GIRTH: Final = ("girth_mm", "girth", "tape_mm", "tape")


def edited_record(record: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """The record with the changes, not yet checked by its shape.

    Number and text of one size are settled together: where one of them is changed or erased, the other goes
    unless it is given too.

    Raises
    ------
    RecordError
        A key is unknown or is not changed in this way, or a text cannot be stored.
    """
    kind = str(record["kind"])
    _refuse_keys(kind, changes)
    found = {key: value for key, value in record.items() if key not in changes}
    for group in _groups(kind):
        given = [key for key in group if key in changes]
        if any(changes[key] is None or changes[key] != record.get(key) for key in given):
            for key in group:
                found.pop(key, None)
        elif given:
            found.update({key: record[key] for key in group if key in record})
    if kind == "reading":
        _one_size(found, changes)
    if kind == "whip":
        _whip_keys(found, changes)
    return {**found, **{key: value for key, value in changes.items() if value is not None}, "kind": kind}


def shaped(record: Mapping[str, Any]) -> Any:
    """The record in its shape; RecordError with all that is to be mended."""
    try:
        return record_from(dict(record))
    except ValidationError as error:
        raise RecordError(*findings_of(error)) from None


def refuse_stale(
    what: str,
    record: Mapping[str, Any],
    changes: Mapping[str, Any] | None,
    version: int | None,
    stored: int,
) -> None:
    """Refuse an edit that rests on another version than the stored one, unless it says what is stored.

    ``changes`` is None for a removal.

    Raises
    ------
    StaleEditError
        With what was typed and what is stored for each key.
    """
    if version is None or version == stored:
        return
    conflicts = {
        key: (typed, record.get(key)) for key, typed in (changes or {}).items() if typed != record.get(key)
    }
    if changes is not None and not conflicts:
        return
    told = "; ".join(
        f"{key}: {_said(now)} is stored, {_said(typed)} was typed" for key, (typed, now) in conflicts.items()
    )
    changed = f"{what} was changed in the meantime (version {stored}, not {version})"
    raise StaleEditError(
        Finding(
            "stale-edit",
            f"{changed}: {told}" if told else changed,
            "look at what is stored now, and repeat the change if it still holds",
        ),
        stored,
        conflicts,
    )


def typed_value(kind: str, key: str, text: str) -> Any:
    """The value that is meant by text typed at a prompt: JSON, or text as it stands.

    ``null`` and ``{...}``, ``[...]``, ``"..."`` are always JSON; a number is one only where the key takes
    numbers, so that a label may be 2026.
    """
    try:
        value = json.loads(text, parse_constant=_refuse_constant)
    except ValueError:
        return text
    if isinstance(value, bool | int | float):
        field = SHAPES[kind].model_fields.get(key) if kind in SHAPES else None
        if field is not None and _takes(field, text):
            return text
    return value


def _takes(field: Any, text: str) -> bool:
    try:
        TypeAdapter(field.annotation).validate_python(text)
    except ValidationError:
        return False
    return True


def _refuse_constant(name: str) -> float:
    raise ValueError(name)


def _refuse_keys(kind: str, changes: Mapping[str, Any]) -> None:
    findings = []
    known = {field.alias or name for name, field in SHAPES[kind].model_fields.items()} - {"kind"}
    for key in changes:
        if kind == "whip" and key in _ONE_BY_ONE:
            findings.append(
                Finding(
                    "one-by-one",
                    "readings are changed one by one",
                    "edit or remove the reading by its number, or add one",
                    key,
                )
            )
        elif key not in known:
            findings.append(
                Finding(
                    "unknown-key",
                    f"a {kind} has no key {key!r}",
                    nearest_or(key, known, f"a {kind} has {', '.join(sorted(known))}"),
                    key,
                )
            )
    if (wrong := unstorable(changes)) is not None:
        findings.append(wrong)
    if findings:
        raise RecordError(*findings)


def _groups(kind: str) -> list[tuple[str, ...]]:
    groups: list[tuple[str, ...]] = [(number, text) for number, (text, _) in SHAPES[kind].as_typed.items()]
    return [*groups, ("at_mm", "at", "place")] if kind == "reading" else groups


def _one_size(found: dict[str, Any], changes: Mapping[str, Any]) -> None:
    """A reading has a diameter or a girth: the one that is given takes the place of the other."""
    for given, other in ((_OF_A_DIAMETER, _OF_A_GIRTH), (_OF_A_GIRTH[:2], _OF_A_DIAMETER)):
        if any(changes.get(key) is not None for key in given):
            for key in other:
                found.pop(key, None)


def _whip_keys(found: dict[str, Any], changes: Mapping[str, Any]) -> None:
    weight = [key for key in ("weight_g", "weight") if key in changes]
    if weight and all(changes[key] is None for key in weight):
        found.pop("weight_with", None)
    if "layers" in changes and "letters" in found:
        named = _cords_in(changes["layers"])
        letters = {letter: cord for letter, cord in found.pop("letters").items() if cord in named}
        if letters:
            found["letters"] = letters


def _cords_in(layers: Any) -> set[str]:
    """Cords that layers name, whatever else may be wrong with them."""
    named = set()
    for layer in layers if isinstance(layers, list) else []:
        if isinstance(layer, Mapping):
            several = layer.get("cords")
            for given in [layer, *(several if isinstance(several, list) else [])]:
                if isinstance(given, Mapping) and isinstance(given.get("cord"), str):
                    named.add(given["cord"])
    return named


def _said(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 80 else f"{text[:77]}..."
