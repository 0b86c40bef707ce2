"""Headers map themselves in any order, case and unit; what is left is told, mapped and remembered."""

from pathlib import Path

import pytest
from sqlalchemy import Engine

from plaitlog.models.errors import InputError
from plaitlog.service.database import writing
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.spreadsheets.catalogue import (
    CORDS,
    LAYERS,
    RATINGS,
    READINGS,
    STOCK,
    TABLES,
    WHIPS,
)
from plaitlog.service.usecases.spreadsheets.columns import Table
from plaitlog.service.usecases.spreadsheets.layout import lay_out
from plaitlog.service.usecases.spreadsheets.mapped import Choices, Layout
from plaitlog.service.usecases.spreadsheets.remembered import HeaderMemory
from plaitlog.service.usecases.workshop import whip
from tests.spreadsheets.workshop_files import take
from tests.usecases.examples import FELL, RIDGE

WHIP = {"kind": "whip", "label": "W", "thong_length_mm": 2000}


def laid(*headers: str, choices: Choices | None = None, hint: str = "") -> Layout:
    found = lay_out("", hint, 1, headers, choices or Choices())
    assert isinstance(found, Layout), found
    return found


def problems(*headers: str, choices: Choices | None = None) -> str:
    found = lay_out("", "", 1, headers, choices or Choices())
    told = list(found.unknown.values()) if isinstance(found, Layout) else found
    assert told, found
    return "\n".join(map(str, told))


@pytest.mark.parametrize(
    ("header", "key", "unit"),
    [
        ("Weight (g)", "weight_g", "g"),
        ("WEIGHT [oz]", "weight_g", "oz"),
        ("weight in lb", "weight_g", "lb"),
        ("Thong length [ft]", "thong_length_mm", "ft"),
        ("thong_length_mm", "thong_length_mm", "mm"),
        ("Thong-Lengths, inches", "thong_length_mm", "in"),
        ("length of the thong (cm)", "thong_length_mm", "cm"),
        ("Ø handle mm", "handle_diameter_mm", "mm"),
        ("Handle dia. (in)", "handle_diameter_mm", "in"),
        ("foundation diameter mm", "foundation.diameter_mm", "mm"),
        ("Balance point mm", "balance.at_mm", "mm"),
        ("Remarks", "notes", None),
        ("Made by", "maker", None),
        ("roll-out", "ratings.roll_out", None),
        ("Second belly", "layer.second_belly.strands", None),
        ("Overlay cord", "layer.overlay.cord", None),
    ],
)
def test_a_whips_header_says_what_it_is_and_in_which_unit(header: str, key: str, unit: str | None) -> None:
    mapped = next(each for each in laid("Label", header, "Type").columns if each.header == header)
    assert (mapped.column.key, mapped.unit) == (key, unit)


@pytest.mark.parametrize(
    ("headers", "table"),
    [
        (("Whip", "At (mm)", "Diameter (mm)"), READINGS),
        (("calipers mm", "station in", "LABEL"), READINGS),
        (("Whip", "Place", "Circumference mm", "Tape mm"), READINGS),
        (("Cord name", "Material", "Construction", "Ø mm"), CORDS),
        (("Cord", "Colour", "Metres"), STOCK),
        (("Whip", "Position", "Role", "Cord", "Strands", "Fate"), LAYERS),
        (("Whip", "Date", "By", "Ease", "Volley", "limp to stiff"), RATINGS),
        (("Whip", "Ease", "Notes"), RATINGS),
        (("Label", "Maker", "D0 in", "D12", "Point"), WHIPS),
        (("No", "thick mm", "mid mm", "point mm"), WHIPS),
    ],
)
def test_the_kind_of_table_follows_from_its_header(headers: tuple[str, ...], table: Table) -> None:
    assert laid(*headers).table is table
    assert laid(*reversed(headers)).table is table


def test_every_table_knows_the_headers_of_its_own_export_and_its_keys() -> None:
    for table in TABLES:
        for headers in (
            tuple(column.title for column in table.columns),
            tuple(column.title.upper() for column in reversed(table.columns)),
        ):
            layout = laid(*headers, hint=table.name)
            assert {each.column.key for each in layout.columns} == {each.key for each in table.columns}
        keys = tuple(column.key for column in table.columns if column.way != "typed")
        layout = laid(*keys, hint=table.name)
        assert [each.column.key for each in layout.columns] == list(keys)


def test_stations_take_the_unit_that_one_of_them_has_or_that_is_declared() -> None:
    def stations(layout: Layout) -> list[tuple[str, str | None]]:
        return [(x.station.station, x.station.unit) for x in layout.columns if x.station is not None]

    assert stations(laid("Label", "D0 in", "D12", "D24")) == [("0 in", "in"), ("12", "in"), ("24", "in")]
    declared = laid("Label", "D0", "D12", choices=Choices(units={"station": "cm"}))
    assert stations(declared) == [("0", "cm"), ("12", "cm")]
    assert stations(laid("Label", "D0", "D600", "D1500")) == [("0", "mm"), ("600", "mm"), ("1500", "mm")]
    assert '--units "station=in"' in problems("Label", "D0", "D12", "D24")


def test_what_is_not_known_is_named_with_the_nearest_key_and_never_dropped() -> None:
    told = problems("Label", "Weigth (g)", "Hours", "Mood")
    assert "column 'Weigth (g)'" in told
    assert '--map "Weigth (g)=weight_g"' in told
    assert '--map "Mood=-"' in told
    assert "both say weight_g" in problems("Label", "Weight g", "Mass g")
    assert "a mass cannot be meant in mm" in problems("Label", "Weight (mm)")
    assert "needs a column 'Label'" in problems("Maker", "Thong length (ft)", choices=Choices(table="whips"))
    assert "did you mean 'readings'?" in problems("Label", "D0", choices=Choices(table="redings"))


def test_a_map_takes_the_rest_and_is_remembered_for_these_headers(
    sqlite_engine: Engine, tmp_path: Path
) -> None:
    memory = tmp_path / "new" / "tables.json"
    text = "Peitsche,Dicke,Stelle,Laune\nW,12,20,good\n"
    with pytest.raises(InputError, match="4 things about the header"):
        take(sqlite_engine, text, table="readings", memory=HeaderMemory(memory))
    with writing(sqlite_engine) as session:
        take_records(session, [WHIP])
    mapping = {"Peitsche": "whip", "Dicke": "diameter", "Stelle": "at_mm", "Laune": "-"}
    units = {"station": "in", "diameter": "mm"}
    report = take(sqlite_engine, text, mapping=mapping, units=units, memory=HeaderMemory(memory))
    assert "passed over: 'Laune'" in report.said[0]
    later = "Stelle,Laune,Dicke,Peitsche\n30,fair,11.5,W\n"  # the same headers in another order
    report = take(sqlite_engine, later, memory=HeaderMemory(memory))
    assert report.readings_added == 1
    with writing(sqlite_engine) as session:
        found = whip(session, "W").readings
    assert [(x.at_mm, x.diameter_mm, x.typed["at"]) for x in found] == [
        (508.0, 12.0, "20 in"),
        (762.0, 11.5, "30 in"),
    ]


def test_a_damaged_memory_is_none(tmp_path: Path) -> None:
    for content in ("", "{", "[1]", '{"label": 3}', '{"label": {"headers": 5}}'):
        (tmp_path / "tables.json").write_text(content)
        assert HeaderMemory(tmp_path / "tables.json").recall(["Label"]) is None


def test_a_column_without_anything_is_ignored_and_one_without_a_name_is_not(sqlite_engine: Engine) -> None:
    take(sqlite_engine, "Label,,Hours\nW,,8\n")
    assert "column 'Mood' is empty" in take(sqlite_engine, "Label,Mood,Hours\nW,,8\nV, ,7\n").said[-1]
    with pytest.raises(InputError, match='--map "Mood=-"'):
        take(sqlite_engine, "Label,Mood,Hours\nW,,8\nV,good,7\n")
    with pytest.raises(InputError, match="1 row is rejected"):
        take(sqlite_engine, "Label,,Hours\nV,lost,8\n")


def test_layers_of_a_notebook_row_and_of_a_table_are_one_and_the_same(sqlite_engine: Engine) -> None:
    wide = (
        "Label,Thong (mm),Core,Core cord,Belly,Belly cord,Binding,Overlay,Overlay cord,Overlay pattern\n"
        'W,1800,"in: 6; 20: end",Ridge 4 mm,,,0.2 mm thread,"in: 12A+4B; 30: -4A; p",'
        "Fell 3 mm (12) + Ridge 4 mm (4),u4o4\n"
    )
    table = (
        "Whip,Position,Role,Cord,Strands,Pattern,Thickness,What,Letter\n"
        'V,3,overlay,Fell 3 mm (12) + Ridge 4 mm (4),"in: 12A+4B; 30: -4A; p",u4o4,,,B + A\n'
        'V,1,core,Ridge 4 mm,"in: 6; 20: end",,,,A\n'
        "V,2,binding,,,,0.2 mm,thread,\n"
    )
    with writing(sqlite_engine) as session:
        take_records(session, [RIDGE, FELL, {"kind": "whip", "label": "V", "thong_length_mm": 1800}])
    take(sqlite_engine, wide.replace("12A+4B; 30: -4A", "12B+4A; 30: -4B"))
    take(sqlite_engine, table.replace("12A+4B; 30: -4A", "12B+4A; 30: -4B"))
    with writing(sqlite_engine) as session:
        one, other = whip(session, "W").layers, whip(session, "V").layers
    assert one == other
    assert [layer.role for layer in one] == ["core", "binding", "overlay"]


def test_the_decimal_mark_of_a_file_serves_for_its_rejected_rows(
    sqlite_engine: Engine, tmp_path: Path
) -> None:
    memory = HeaderMemory(tmp_path / "tables.json")
    whole = "Label;Weight (g);Hours\nA;1.024;8,5\nB;x;9,25\n"
    take(sqlite_engine, whole, partial=True, memory=memory)
    rest = "Why rejected;Label;Weight (g);Hours\n'x' is no mass;B;1.012;9\n"
    with pytest.raises(InputError):
        take(sqlite_engine, rest)
    take(sqlite_engine, rest, memory=memory)
    with writing(sqlite_engine) as session:
        assert [whip(session, label).weights[0].weight_g for label in "AB"] == [1024.0, 1012.0]
    own = "Label;Weight (g);Hours\nC;1.012;9.5\nD;3.5 oz;1.012\n"  # what the file itself tells comes first
    take(sqlite_engine, own, memory=memory)
    with writing(sqlite_engine) as session:
        assert whip(session, "C").weights[0].weight_g == 1.012
