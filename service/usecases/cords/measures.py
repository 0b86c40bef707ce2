"""What is measured of a cord on the bench, as a record; what a cord lacks."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from plaitlog.models import units
from plaitlog.models.errors import Finding, InputError
from plaitlog.models.whip import Cord

CORD_LENGTH: Final = units.Quantity("length of cord", "mm", units.LENGTH.units, 1_000_000, (500, 100_000))
SHORT_MM: Final = 5_000.0
"""Below this a kitchen scale, which shows whole grams, is off by more than some per cent."""

LACKS: Final[Mapping[str, str]] = {
    "linear_density_g_per_m": "weigh 10 m",
    "diameter_mm": "calipers just touching",
    "flat_width_mm": "ten strands side by side",
    "pressed_mm": "calipers pressed shut",
}
"""What a cord can lack, and how it is measured."""


def lacks(cord: Cord) -> tuple[str, ...]:
    """Keys of the measurements that a cord lacks."""
    return tuple(key for key in LACKS if getattr(cord, key) is None)


@dataclass(frozen=True, slots=True, kw_only=True)
class OnTheBench:
    """What was measured of a cord, as text; a bare number is in m (length weighed), g, g/m or mm."""

    name: str = ""
    material: str = ""
    construction: str = ""
    weighed_length: str | None = None
    grams: str | None = None
    linear_density: str | None = None
    ten_strands: str | None = None
    flat_width: str | None = None
    touching: str | None = None
    pressed: str | None = None
    notes: str | None = None


def cord_as_measured(bench: OnTheBench) -> tuple[dict[str, Any], tuple[Finding, ...]]:
    """The record of a cord from what was measured on the bench, as text; a bare number is in m, g or mm.

    Raises
    ------
    InputError
        Where a text cannot be read, or a length comes without its weight.
    """
    record: dict[str, Any] = {
        "kind": "cord", "name": bench.name, "material": bench.material, "construction": bench.construction,
    }  # fmt: skip
    findings: list[Finding] = []
    if (bench.weighed_length is None) != (bench.grams is None):
        what = "the length weighed" if bench.weighed_length is None else "its weight"
        raise InputError(Finding("half-weighed", f"{what} is missing", "give length and grams, or neither"))
    if bench.weighed_length is not None and bench.grams is not None:
        mm = units.parse_length(bench.weighed_length, unit="m", quantity=CORD_LENGTH)
        record["linear_density_g_per_m"] = round(units.parse_mass(bench.grams, unit="g") / mm * 1000, 6)
        if mm < SHORT_MM:
            findings.append(
                Finding(
                    "weighed-short",
                    f"{units.show_length(mm, 'm')} is short for a kitchen scale, which shows whole grams",
                    "weigh 10 m",
                )
            )
    elif bench.linear_density is not None:
        record["linear_density"] = _with_unit(bench.linear_density, "g/m", units.parse_linear_density)
    if bench.ten_strands is not None:
        record["flat_width_mm"] = round(
            units.parse_length(bench.ten_strands, unit="mm", quantity=units.GIRTH) / 10, 6
        )
    elif bench.flat_width is not None:
        record["flat_width"] = _with_unit(bench.flat_width, "mm", units.parse_diameter)
    if bench.touching is not None:
        record["diameter"] = _with_unit(bench.touching, "mm", units.parse_diameter)
    if bench.pressed is not None:
        record["pressed"] = _with_unit(bench.pressed, "mm", units.parse_thickness)
    if bench.notes:
        record["notes"] = bench.notes
    return record, tuple(findings)


def _with_unit(typed: str, unit: str, read: Any) -> str:
    """The text with its unit, after reading it once so that it is refused here."""
    read(typed, unit=unit)
    try:
        read(typed)
    except InputError:
        return f"{typed.strip()} {unit}"
    return typed.strip()
