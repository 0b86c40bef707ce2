"""A rating session as the texts of a form, and back to a record as it stands in a file."""

from collections.abc import Mapping
from typing import Any, Final

from plaitlog.models.whip import COMPARISONS, FEELS, NOT_TRIED, QUALITIES
from plaitlog.service.usecases.recording.answers import feel, number, score

PLAIN: Final = ("by", "on", "fall", "cracker", "compared_with", "notes")


def rating_of(label: str, texts: Mapping[str, str]) -> dict[str, Any]:
    """The record of a rating of ``label``; an empty text says nothing.

    texts : the keys of a record, ``score.QUALITY`` (1 to 10, "not tried", or beside another whip "better",
    "same", "worse") and ``feel.SIDE`` (-2 to 2).

    Raises
    ------
    InputError
        A score or a note that is none.
    """
    record: dict[str, Any] = {"kind": "rating", "whip": label}
    for key in PLAIN:
        if text := texts.get(key, "").strip():
            record[key] = text
    if text := texts.get("hours_of_use", "").strip():
        record["hours_of_use"] = number(text)
    record["scores"] = {
        quality: text if text in COMPARISONS or text == NOT_TRIED else score(text)
        for quality in QUALITIES
        if (text := texts.get(f"score.{quality}", "").strip())
    }
    record["feel"] = {side: feel(text) for side in FEELS if (text := texts.get(f"feel.{side}", "").strip())}
    return record


def texts_of(record: Mapping[str, Any]) -> dict[str, str]:
    """The texts that ``rating_of`` makes this record of."""
    texts = {key: str(record[key]) for key in (*PLAIN, "hours_of_use") if record.get(key) is not None}
    for quality, value in (record.get("scores") or {}).items():
        texts[f"score.{quality}"] = value if isinstance(value, str) else f"{value:g}"
    for side, value in (record.get("feel") or {}).items():
        texts[f"feel.{side}"] = f"{value:g}"
    return texts
