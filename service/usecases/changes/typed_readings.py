"""One reading as one types it: what stands in each field, and what the texts change."""

from collections.abc import Mapping
from typing import Any, Final

from plaitlog.models import units
from plaitlog.models.errors import Finding, InputError
from plaitlog.models.whip import CONDITIONS
from plaitlog.service.usecases.changes.typed_facts import size_text
from plaitlog.service.usecases.recording.answers import with_unit
from plaitlog.service.usecases.shown_units import ShownUnits

Record = Mapping[str, Any]
FIELDS: Final = ("at", "size", "doubtful", "after_layer", "condition", "on", "notes")
GIRTH: Final = "girth "
PLACES: Final = ("thick", "mid", "p", "point", "middle")


def reading_texts(record: Record, shown: ShownUnits) -> dict[str, str]:
    """A recorded reading as texts by field; a girth says so before its number."""
    girth = size_text(record, "girth", lambda mm: units.show_length(mm, "mm"))
    layer = record.get("after_layer")
    return {
        "at": str(record.get("place") or size_text(record, "at", shown.length)),
        "size": f"{GIRTH}{girth}" if girth else size_text(record, "diameter", shown.diameter),
        "doubtful": "yes" if record.get("doubtful") else "",
        "after_layer": "" if layer is None else str(layer),
        "condition": str(record.get("condition", "")),
        "on": str(record.get("on", "")),
        "notes": str(record.get("notes", "")),
    }


def reading_changes(typed: Mapping[str, str], was: Mapping[str, str], shown: ShownUnits) -> dict[str, Any]:
    """What is changed of a reading's record by fields that say something else now.

    Raises
    ------
    InputError
        With the field that is to be mended.
    """
    changes: dict[str, Any] = {}
    for field in FIELDS:
        text = typed.get(field, "").strip()
        if text == was.get(field, ""):
            continue
        try:
            changes |= _change(field, text, shown)
        except InputError as error:
            finding = error.finding
            raise InputError(Finding(finding.code, finding.text, finding.remedy, field)) from error
    return changes


def _change(field: str, text: str, shown: ShownUnits) -> dict[str, Any]:
    if field == "at":
        if text.casefold() in PLACES:
            return {"place": text.casefold(), "at": None, "at_mm": None}
        return {"at": with_unit(text, shown.lengths, units.LENGTH)[0]}
    if field == "size":
        if text.casefold().startswith(GIRTH.strip()):
            bare = text[len(GIRTH) - 1 :]
            return {"girth": with_unit(bare, shown.diameters, units.GIRTH)[0]}
        return {"diameter": with_unit(text, shown.diameters, units.DIAMETER)[0]}
    if field == "doubtful":
        return {"doubtful": True if text else None}
    if field == "after_layer":
        if text and not (text.isdecimal() and len(text) < 3):
            raise InputError(Finding("not-a-layer", f"{text!r} is no layer", "choose one of the whip's"))
        return {"after_layer": int(text) if text else None}
    if field == "condition" and text and text not in CONDITIONS:
        raise InputError(Finding("not-a-choice", f"{text!r} is not one of them", "choose one"))
    return {field: text or None}
