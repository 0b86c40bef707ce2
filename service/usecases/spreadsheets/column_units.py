"""Units of columns that do not name one: as declared, as their neighbours have it, as the numbers tell."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from plaitlog.models.errors import Finding
from plaitlog.models.units import LENGTH
from plaitlog.models.units_scan import G_PER, MM_PER, scan_number
from plaitlog.service.usecases.spreadsheets.headers import bare
from plaitlog.service.usecases.spreadsheets.mapped import Choices, Mapped


def declared(units: Mapping[str, str], names: Sequence[str]) -> str | None:
    """The unit that is declared under the first of these names."""
    plain = {bare(name): unit for name, unit in units.items()}
    return next((plain[bare(name)] for name in names if bare(name) in plain), None)


def with_unit(each: Mapped, choices: Choices) -> Mapped:
    column = each.column
    if column.quantity is not None:
        same = {"mass": "weight"}.get(column.quantity.name, column.quantity.name)
        own = ["reading"] if each.station is not None else [column.key, column.text_key]
        if column.key == "at_mm":
            own.append("station")
        unit = declared(choices.units, [each.header, *own, column.quantity.name, same])
        if unit is not None and each.unit is None and unit in column.quantity.units:
            each = replace(each, unit=unit)
    if column.way == "strands" and each.unit is None:
        each = replace(each, unit=declared(choices.units, [each.header, column.key, "strands", "station"]))
    station = each.station
    if station is not None and station.place is None and station.unit is None:
        unit = declared(choices.units, ["station", "stations"])
        each = replace(each, station=replace(station, unit=unit))
    return each


def same_station_unit(columns: list[Mapped]) -> list[Mapped]:
    """Stations without a unit take that of the others where these have one and the same: D0 in, D12, D24."""
    units = {each.station.unit for each in columns if each.station is not None and each.station.unit}
    if len(units) > 1:
        return columns
    unit = next(iter(units), None) or _told_station_unit(columns)
    return [
        replace(each, station=replace(each.station, unit=unit))
        if each.station is not None and lacks_station_unit(each)
        else each
        for each in columns
    ]


def _told_station_unit(columns: list[Mapped]) -> str | None:
    """mm, where the last station in any other unit would lie beyond every whip."""
    stations = [_station_number(each) for each in columns if lacks_station_unit(each)]
    last = max(stations, default=0.0)
    usual = [
        unit
        for unit, factor in LENGTH.units.items()
        if LENGTH.usual[0] <= last * float(factor) <= LENGTH.usual[1]
    ]
    return usual[0] if usual == ["mm"] else None


def _station_number(each: Mapped) -> float:
    assert each.station is not None
    number = scan_number(each.station.station)
    return 0.0 if number is None else float(number.value)


def lacks_station_unit(each: Mapped) -> bool:
    station = each.station
    return station is not None and station.place is None and station.unit is None


def station_unit_missing(lacking: list[Mapped]) -> Finding:
    headers = ", ".join(repr(each.header) for each in lacking[:6])
    return Finding(
        "unit-missing",
        f"no unit says where {headers} {'lies' if len(lacking) == 1 else 'lie'}",
        'say --units "station=in" (or cm, mm), or write it into one of the headers: "D12 in"',
    )


def known_unit(unit: str) -> bool:
    return unit in MM_PER or unit in G_PER or unit in {"g/m", "oz/yd", "ft/lb", "g/cm3", "kg/m3"}
