"""Values of taper parameters as a reader sees them, in the reader's units."""

from plaitlog.models.handling.definitions import BY_NAME, Definition
from plaitlog.service.usecases.shown_units import ShownUnits


def said(parameter: str, value: float, shown: ShownUnits) -> str:
    """A value with its unit: 14.3 mm, 5 1/2 in, 0.43, +0.21, 155 g/m."""
    definition = BY_NAME[parameter]
    return f"{number(definition, value, shown)}{unit(definition, shown)}"


def number(definition: Definition, value: float, shown: ShownUnits) -> str:
    """The same without the unit, but for lengths, which are said with theirs."""
    match definition.unit:
        case "diameter":
            return shown.diameter_number(value)
        case "length":
            return shown.length(value) if value > 0 else "0"
        case "mm2":
            return f"{round(value, -2):,.0f}"
        case "log ratio":
            return f"{value:+.2f}"
        case "mm per m":
            return f"{value:.1f}"
        case "g per m":
            return f"{value:.0f}"
        case _:
            return f"{value:.2f}"


def unit(definition: Definition, shown: ShownUnits) -> str:
    """The unit after a blank; nothing for a plain number, and for a length, which is said with its own."""
    if definition.unit == "diameter":
        return f" {shown.diameters}"
    return {"mm2": " mm²", "mm per m": " mm/m", "g per m": " g/m"}.get(definition.unit, "")
