"""Rows to records as they stand in a file of records, with the cell that each part of them came from."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.units_scan import MM_PER, plain_marks, scan_measure
from plaitlog.models.whip import NONE
from plaitlog.service.schemas.values import shown
from plaitlog.service.usecases.spreadsheets.catalogue import PLAITED, READINGS, SLOTS, WHIPS
from plaitlog.service.usecases.spreadsheets.mapped import Layout, Mapped
from plaitlog.service.usecases.spreadsheets.one_cell import NumberForm, as_text, is_blank
from plaitlog.service.usecases.spreadsheets.staging import StagedRow
from plaitlog.service.usecases.spreadsheets.values import read_cell

Record = dict[str, Any]
_DOUBTABLE: Final = ("diameter_mm", "girth_mm")
"""Sizes of a reading: a question mark behind one says that it is doubtful."""
_YES: Final = frozenset({"yes", "y", "x", "true"})


@dataclass(frozen=True, slots=True)
class Origin:
    """The cell that a part of a record came from: key of its row, header of its column, what stands there."""

    row: int
    header: str
    cell: str


@dataclass(slots=True)
class FromRows:
    """One record made of one row or several.

    ``row`` is the key of the first; ``origins`` tell cells by key path as findings write it
    (``layers 2, strands``); ``findings`` are refusals by the key of their row.
    """

    row: int
    record: Record
    members: list[int]
    origins: dict[str, Origin] = field(default_factory=dict)
    findings: dict[int, list[Finding]] = field(default_factory=dict)

    def refuse(self, row: int, finding: Finding) -> None:
        self.findings.setdefault(row, []).append(finding)

    def tell(self, finding: Finding) -> tuple[int, Finding]:
        """A finding about the record in the words of the table, with the row it belongs to."""
        origin = self._origin(finding.where)
        if origin is None:
            return self.row, finding
        quoted = shown(origin.cell)
        said = quoted in finding.text or origin.cell in finding.text
        told = finding.text if said else f"{quoted}: {finding.text}"
        return origin.row, Finding(finding.code, told, _remedy(finding), f"column {origin.header!r}")

    def _origin(self, where: str) -> Origin | None:
        path = where
        while path:
            if path in self.origins:
                return self.origins[path]
            head, _, last = path.rpartition(", ")
            name, _, number = last.rpartition(" ")
            path = f"{head}, {name}" if number.isdigit() and name and head else name if name else head
        return None


def _remedy(finding: Finding) -> str:
    """A remedy for a cell: what is not known is left empty there."""
    return (
        finding.remedy.replace(", or null if not known", ", or leave the cell empty")
        .replace(', "none", or null if not known', ", write none, or leave the cell empty")
        .replace("null", "an empty cell")
    )


@dataclass(slots=True)
class _Cells:
    """What one row says: values by key, and the cells they stand in."""

    values: Record
    origins: dict[str, Origin]
    findings: list[Finding]
    readings: list[tuple[Record, Origin]] = field(default_factory=list)


def _read(row: StagedRow, layout: Layout, form: NumberForm) -> _Cells:
    found = _Cells({}, {}, [])
    doubtable = _DOUBTABLE if layout.table is READINGS else ()
    for mapped in layout.columns:
        cell = row.cells[mapped.index] if mapped.index < len(row.cells) else None
        if is_blank(cell):
            continue
        origin = Origin(row.key, mapped.header, as_text(cell).strip())
        if mapped.column.key in doubtable and isinstance(cell, str) and cell.rstrip().endswith("?"):
            cell = cell.rstrip().rstrip("?")
            if is_blank(cell):
                continue
            found.values["doubtful"] = True
        try:
            pairs = read_cell(cell, mapped, form)
        except InputError as error:
            found.findings.append(_in_column(error.finding, mapped))
            continue
        for key, value in pairs:
            if key == "readings":
                found.readings.append((value, origin))
            else:
                found.values[key] = value
        for key in {mapped.column.key, mapped.column.text_key} - {""}:
            found.origins.setdefault(key, origin)
    return found


def _in_column(finding: Finding, mapped: Mapped) -> Finding:
    return Finding(finding.code, finding.text, finding.remedy, f"column {mapped.header!r}")


def record_of(row: StagedRow, layout: Layout, form: NumberForm) -> FromRows:
    """The record of a row that is one by itself: a maker, a cord, stock, a reading, a rating, a whip."""
    cells = _read(row, layout, form)
    table = layout.table
    found = FromRows(row.key, {"kind": table.kind}, [row.key])
    for finding in cells.findings:
        found.refuse(row.key, finding)
    own = {key: value for key, value in cells.values.items() if not key.startswith(("layer.", "reading."))}
    found.record.update(nested(own))
    for key, origin in cells.origins.items():
        found.origins[key.replace(".", ", ")] = origin
    if "readings_text" in found.record:
        found.record["readings"] = []  # they have a table of their own, or stand in this row
    if table is WHIPS:
        _take_layers_of_a_row(found, cells)
        _take_readings_of_a_row(found, cells)
    return found


def nested(values: Mapping[str, Any]) -> Record:
    """Values under keys with dots as objects within objects; a word (none) stands for a whole object."""
    found: Record = {}
    for key, value in values.items():
        head, _, last = key.rpartition(".")
        if not head:
            found[key] = value
        elif isinstance(inside := found.setdefault(head, {}), dict):
            inside[last] = value
    return found


def _take_readings_of_a_row(found: FromRows, cells: _Cells) -> None:
    shared = {
        key.removeprefix("reading."): value
        for key, value in cells.values.items()
        if key.startswith("reading.")
    }
    if cells.readings:
        found.record["readings"] = [{**reading, **shared} for reading, _ in cells.readings]
    for number, (_, origin) in enumerate(cells.readings, start=1):
        found.origins[f"readings {number}"] = origin
        for key in shared:
            found.origins[f"readings {number}, {key}"] = cells.origins[f"reading.{key}"]


def _take_layers_of_a_row(found: FromRows, cells: _Cells) -> None:
    layers: list[Record] = []
    shared = cells.values.get("layer.cord")
    for slot in SLOTS:
        own = {
            key: cells.values[f"layer.{slot}.{key}"]
            for key in ("strands", "cord", "fate", "pattern")
            if f"layer.{slot}.{key}" in cells.values
        }
        if not own or str(own.get("strands", "")).lower() in (NONE, "no"):
            continue
        layer: Record = {"role": slot.removeprefix("second_")}
        if slot in PLAITED:
            cord = own.pop("cord", shared)
            layer.update(_cords(cord), **own)
        else:
            layer.update(_stuff(own))
        layers.append(layer)
        for key in ("strands", "cord", "fate", "pattern"):
            if f"layer.{slot}.{key}" in cells.origins:
                found.origins[f"layers {len(layers)}, {key}"] = cells.origins[f"layer.{slot}.{key}"]
        first = next(cells.origins[f"layer.{slot}.{key}"] for key in ("strands", "cord", "fate", "pattern")
                     if f"layer.{slot}.{key}" in cells.origins)  # fmt: skip
        found.origins[f"layers {len(layers)}"] = first
        if "layer.cord" in cells.origins:
            found.origins.setdefault(f"layers {len(layers)}, cord", cells.origins["layer.cord"])
    if not layers and shared is not None:
        layers.append({"role": "overlay", **_cords(shared)})
        found.origins["layers 1"] = cells.origins["layer.cord"]
    if layers:
        found.record["layers"] = layers


def _cords(cord: Any) -> Record:
    return {} if cord is None else {"cords" if isinstance(cord, list) else "cord": cord}


def _stuff(own: Record) -> Record:
    """A bolster or binding as a notebook has it: ``0.2 mm thread``, ``tape``, or a mark that there is one."""
    found = _cords(own.get("cord"))
    text = str(own.get("strands", "")).strip()
    marks = plain_marks(text)
    measured = scan_measure(marks, 0, MM_PER)
    if measured is not None and measured.unit is not None:
        found["thickness"] = text[: measured.end].strip()
        text = text[measured.end :].strip(" ,;")
    if text and text.lower() not in _YES:
        found["what"] = text
    return found


def with_parts(found: FromRows, parts: Iterable[tuple[StagedRow, Layout]], form: NumberForm) -> None:
    """Put rows of layers, turn lengths, weighings and cord used into the record of their whip."""
    listed: dict[str, list[tuple[StagedRow, _Cells]]] = {}
    for row, layout in parts:
        cells = _read(row, layout, form)
        for finding in cells.findings:
            found.refuse(row.key, finding)
        if row.key not in found.members:
            found.members.append(row.key)
        listed.setdefault(layout.table.part, []).append((row, cells))
    for part, rows in listed.items():
        if part in found.record:
            finding = Finding(
                "layers-twice", "the whip's own row lists layers too", "keep them in one of the tables"
            )
            for row, _ in rows:
                found.refuse(row.key, finding)
            continue
        entries = []
        for number, (row, cells) in enumerate(_in_order(rows, found), start=1):
            values = {key: value for key, value in cells.values.items() if key not in ("whip", "position")}
            _take_letters(found, row, values)
            entries.append(_layer(values) if part == "layers" else nested(values))
            for key, origin in cells.origins.items():
                found.origins[f"{part} {number}, {'cord' if key == 'cords' else key}"] = origin
                if key == "strands":
                    found.origins[f"{part} {number}, strands_text"] = origin
            found.origins[f"{part} {number}"] = cells.origins.get(
                "role", next(iter(cells.origins.values()), Origin(row.key, "", ""))
            )
        found.record[part] = entries


def _take_letters(found: FromRows, row: StagedRow, values: Record) -> None:
    """The letters of a layer's cords, which are named once for the whole whip."""
    signs = values.pop("letters", None)
    if signs is None:
        return
    cords = values.get("cords")
    names = [each["cord"] for each in cords] if isinstance(cords, list) else [cords]
    if cords is None or len(signs) != len(names):
        text = f"{len(signs)} {'letter stands' if len(signs) == 1 else 'letters stand'} beside other cords"
        found.refuse(row.key, Finding("letters", text, "write one for each cord, as in A + B"))
        return
    letters = found.record.setdefault("letters", {})
    for sign, name in zip(signs, names, strict=True):
        if letters.setdefault(sign, name) != name:
            text = f"the letter {sign!r} stands for {letters[sign]!r} in another layer"
            found.refuse(row.key, Finding("letter-twice", text, "choose another letter"))


def _in_order(
    rows: Sequence[tuple[StagedRow, _Cells]], found: FromRows
) -> Sequence[tuple[StagedRow, _Cells]]:
    """Rows by their position where they have one, else as they stand in the file."""
    placed = [cells.values.get("position") for _, cells in rows]
    if all(place is None for place in placed):
        return rows
    seen: dict[Any, int] = {}
    for (row, cells), place in zip(rows, placed, strict=True):
        if place is None and "position" not in cells.origins:
            text, remedy = "has no position, though other layers of this whip have", "number it"
            found.refuse(row.key, Finding("position-missing", text, remedy, "column 'position'"))
        elif place in seen:
            origin = cells.origins["position"]
            finding = Finding(
                "position-twice",
                f"two layers of this whip have the position {place}",
                "number the layers from 1, the innermost",
                f"column {origin.header!r}",
            )
            found.refuse(row.key, finding)
        seen.setdefault(place, row.key)
    return sorted(rows, key=lambda each: each[1].values.get("position") or 0)


def _layer(values: Record) -> Record:
    """A row of the layers table as a layer of a record: steps beside the notation they were typed as."""
    layer = {key: value for key, value in values.items() if key not in ("cords", "strands", "steps")}
    layer.update(_cords(values.get("cords")))
    if "steps" in values:
        layer["strands"] = values["steps"]
        if "strands" in values:
            layer["strands_text"] = values["strands"]
    elif "strands" in values:
        layer["strands"] = values["strands"]
    return layer
