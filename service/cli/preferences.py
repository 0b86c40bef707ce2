"""The units this user types and reads lengths and diameters in, remembered in the user's data folder."""

import json
from typing import Any

from plaitlog.service.settings import data_folder
from plaitlog.service.usecases.shown_units import ShownUnits

FILE = "units.json"


def remembered_units() -> ShownUnits | None:
    """The units as remembered; None where they were never asked for."""
    try:
        found: Any = json.loads((data_folder() / FILE).read_text("utf-8"))
        lengths, diameters = found["lengths"], found["diameters"]
    except (OSError, ValueError, KeyError, TypeError):
        return None
    if lengths not in {"mm", "cm", "m", "in", "ft"} or diameters not in {"mm", "in"}:
        return None
    return ShownUnits(lengths, diameters)


def shown_units() -> ShownUnits:
    """The units as remembered, else inches for lengths and millimetres for diameters."""
    return remembered_units() or ShownUnits()


def remember_units(units: ShownUnits) -> None:
    """Keep the units for next time."""
    folder = data_folder()
    folder.mkdir(parents=True, exist_ok=True)
    kept = {"lengths": units.lengths, "diameters": units.diameters}
    (folder / FILE).write_text(json.dumps(kept), "utf-8")


def length_shown(mm: float | None) -> str:
    """A whip's length in a list; empty where it is not known."""
    return "" if mm is None else shown_units().long_length(mm)
