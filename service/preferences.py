"""What this user prefers, remembered in the user's data folder: units, number style, whose hands, columns.

The command line and the pages share it, so that neither asks what the other knows.
"""

import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Final

from plaitlog.models.units import LengthUnit
from plaitlog.service.settings import data_folder
from plaitlog.service.usecases.shown_units import ShownUnits

FILE = "preferences.json"
LENGTHS: Final[tuple[LengthUnit, ...]] = ("in", "mm", "cm")
DIAMETERS: Final[tuple[LengthUnit, ...]] = ("mm", "in")


@dataclass(frozen=True, slots=True)
class Preferences:
    """``units``: None where they were never asked for. ``maker``: whose whips are recorded here, mostly.

    whip_columns : columns of the list of whips, None where they were never chosen.
    """

    units: ShownUnits | None = None
    maker: str | None = None
    whip_columns: tuple[str, ...] | None = None

    @property
    def shown(self) -> ShownUnits:
        """The units as chosen, else inches for lengths and millimetres for diameters."""
        return self.units or ShownUnits()


def preferences() -> Preferences:
    """What is remembered; what cannot be read counts as never said."""
    try:
        kept: Any = json.loads((data_folder() / FILE).read_text("utf-8"))
        return Preferences(
            _units(kept.get("units")), kept.get("maker") or None, _names(kept.get("whip_columns"))
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return Preferences()


def _units(kept: Any) -> ShownUnits | None:
    if kept is None or kept["lengths"] not in (*LENGTHS, "m", "ft") or kept["diameters"] not in DIAMETERS:
        return None
    return ShownUnits(
        kept["lengths"],
        kept["diameters"],
        fractions=bool(kept.get("fractions", True)),
        decimal_comma=bool(kept.get("decimal_comma", False)),
    )


def _names(kept: Any) -> tuple[str, ...] | None:
    return None if kept is None else tuple(map(str, kept))


def remember(wanted: Preferences) -> None:
    """Keep them for next time; the file is whole at every moment."""
    folder = data_folder()
    folder.mkdir(parents=True, exist_ok=True)
    kept = {
        "units": None if wanted.units is None else asdict(wanted.units),
        "maker": wanted.maker,
        "whip_columns": wanted.whip_columns,
    }
    part = Path(folder / f"{FILE}.part")
    part.write_text(json.dumps(kept, ensure_ascii=False), "utf-8")
    part.replace(folder / FILE)


def remembered_units() -> ShownUnits | None:
    """The units as remembered; None where they were never asked for."""
    return preferences().units


def shown_units() -> ShownUnits:
    """The units as remembered, else inches for lengths and millimetres for diameters."""
    return preferences().shown


def remember_units(units: ShownUnits) -> None:
    """Keep the units for next time, and what else is remembered."""
    remember(replace(preferences(), units=units))


def length_shown(mm: float | None) -> str:
    """A whip's length in a list; empty where it is not known."""
    return "" if mm is None else shown_units().long_length(mm)
