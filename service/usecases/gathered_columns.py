"""A whip's readings as a few hundred bytes, and the bytes of any number of whips as columns again.

What is kept is free of everything that may change while the whip does not: names of whip and maker, names and
sizes of cords. The bytes are three counts (readings, layers, groups of strands), then the records below one
after the other, packed with zlib.
"""

import struct
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import Any, Final, TypeVar, get_args

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.observations import Method, Observation
from plaitlog.models.calibration.readings import Codes, Readings, readings
from plaitlog.models.calibration.stack_columns import Index, StackColumns
from plaitlog.models.whip import CONDITIONS, Cord

FORMAT: Final = 2
"""Raise it whenever these records, ``stack_at`` or ``observe`` change: what was kept before is then worked
out anew. A new version of the program has it worked out anew in any case."""

METHODS: Final[tuple[str, ...]] = get_args(Method)
WHIPS_AT_ONCE: Final = 2_000
_COUNTS: Final = struct.Struct("<III")
_READING: Final = np.dtype(
    [
        ("diameter_mm", "<f8"),
        ("at_mm", "<f8"),
        ("foundation", "<f8"),
        ("condition", "i1"),
        ("method", "i1"),
        ("inner", "?"),
        ("doubtful", "?"),
    ]
)
_LAYER: Final = np.dtype(
    [
        ("row", "<u4"),
        ("place", "<u4"),
        ("kind", "i1"),
        ("slot", "<u4"),
        ("given", "<f8"),
        ("turn", "<f8"),
        ("float", "<f8"),
    ]
)
_GROUP: Final = np.dtype(
    [
        ("row", "<u4"),
        ("place", "<u4"),
        ("cord", "<i4"),
        ("gutted", "?"),
        ("lot", "<i4"),
        ("low", "<f8"),
        ("high", "<f8"),
    ]
)

_KINDS: Final = (_READING, _LAYER, _GROUP)

Name = TypeVar("Name")


@dataclass(frozen=True, slots=True)
class WhipColumns:
    """The readings of one whip that a fit learns from; ``lots`` names the lots that the columns number."""

    columns: bytes
    lots: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NamedWhip:
    """A whip's readings with the names that may change without them."""

    label: str
    maker: str | None
    kept: WhipColumns


def packed(whips: Sequence[Sequence[Observation]], cord_keys: Mapping[str, int]) -> list[WhipColumns]:
    """The columns of each whip, from its observations; whips without any have columns too."""
    data = readings([observation for whip in whips for observation in whip])
    stacks = data.stacks
    sizes = [len(whip) for whip in whips]
    starts = np.array([0, *accumulate(sizes)], dtype=np.intp)
    of_reading = np.repeat(np.arange(len(whips)), sizes)
    first = starts[of_reading]
    lots = [_own_lots(stacks, *ends) for ends in _between(starts, stacks.group_row)]
    rows = _records(
        _READING, len(data),
        diameter_mm=data.diameter_mm, at_mm=data.at_mm, foundation=stacks.foundation,
        condition=_among(CONDITIONS, data.condition, data.conditions),
        method=_among(METHODS, data.method, data.methods), inner=data.inner, doubtful=data.doubtful,
    )  # fmt: skip
    layers = _records(
        _LAYER, len(stacks.layer_row),
        row=stacks.layer_row - first[stacks.layer_row], place=stacks.layer_place, kind=stacks.layer_kind,
        slot=stacks.layer_slot, given=stacks.layer_given, turn=stacks.layer_turn, float=stacks.layer_float,
    )  # fmt: skip
    keys = np.array([cord_keys[cord.name] for cord in stacks.cords], dtype=np.int64)
    groups = _records(
        _GROUP, len(stacks.group_row),
        row=stacks.group_row - first[stacks.group_row], place=stacks.group_place,
        cord=keys[stacks.group_cord] if len(keys) else 0, gutted=stacks.group_gutted,
        lot=np.concatenate([codes for codes, _ in lots]) if lots else 0,
        low=stacks.group_low, high=stacks.group_high,
    )  # fmt: skip
    parts = (
        list(pairwise(starts.tolist())),
        _between(starts, stacks.layer_row),
        _between(starts, stacks.group_row),
    )
    found = []
    for k, ((a, b), (c, d), (e, f)) in enumerate(zip(*parts, strict=True)):
        body = rows[a:b].tobytes() + layers[c:d].tobytes() + groups[e:f].tobytes()
        counts = _COUNTS.pack(b - a, d - c, f - e)
        found.append(WhipColumns(counts + zlib.compress(body, 1), lots[k][1]))
    return found


def _records(record: np.dtype[Any], size: int, **columns: Any) -> NDArray[Any]:
    found = np.zeros(size, dtype=record)
    for name, column in columns.items():
        found[name] = column
    return found


def _among(names: Sequence[str], codes: Codes, coded: Sequence[str]) -> NDArray[np.int8]:
    """Codes that count ``coded`` as codes that count ``names``; -1 stays."""
    return np.array([*(names.index(name) for name in coded), -1], dtype=np.int8)[codes]


def _between(starts: Index, row: Index) -> list[tuple[int, int]]:
    """First and last entry of each whip, among entries that name ascending rows."""
    ends = np.searchsorted(row, starts).tolist()
    return list(pairwise(ends))


def _own_lots(stacks: StackColumns, start: int, end: int) -> tuple[Index, tuple[str, ...]]:
    """The lots of one whip's groups, numbered among themselves."""
    codes = stacks.group_lot[start:end]
    if not (codes >= 0).any():
        return codes, ()
    own: dict[int, int] = {}
    numbers = [-1 if code < 0 else own.setdefault(code, len(own)) for code in codes.tolist()]
    return np.array(numbers, dtype=np.intp), tuple(stacks.lots[code] for code in own)


def unpacked(whips: Sequence[NamedWhip], cords: Mapping[int, Cord]) -> Readings:
    """The readings of all whips, in their order; names and cords are numbered as they first occur."""
    whips = [whip for whip in whips if _COUNTS.unpack_from(whip.kept.columns)[0]]
    counts = np.array([_COUNTS.unpack_from(whip.kept.columns) for whip in whips], dtype=np.intp)
    counts = counts.reshape(-1, 3)
    starts = np.concatenate([np.zeros((1, 3), dtype=np.intp), np.cumsum(counts, axis=0)])
    tables = [
        {name: np.empty(int(count), dtype=_wide(kind[name])) for name in kind.names or ()}
        for kind, count in zip(_KINDS, starts[-1], strict=True)
    ]
    lots: dict[str, int] = {}
    for start in range(0, len(whips), WHIPS_AT_ONCE):
        part = whips[start : start + WHIPS_AT_ONCE]
        end = start + len(part)
        records = _records_of([whip.kept.columns for whip in part], counts[start:end])
        for k, (table, found) in enumerate(zip(tables, records, strict=True)):
            here = slice(starts[start, k], starts[end, k])
            for name, column in table.items():
                column[here] = found[name]
            if "row" in table:
                table["row"][here] += np.repeat(starts[start:end, 0], counts[start:end, k])
            if "lot" in table:
                _number_lots(part, counts[start:end, k], table["lot"][here], lots)
    return _readings(whips, counts[:, 0], tables, tuple(lots), cords)


def _wide(kind: np.dtype[Any]) -> Any:
    """Numbers of rows, slots, cords are counted on in the machine's own width."""
    return np.intp if kind.itemsize == 4 else kind


def _records_of(kept: Sequence[bytes], counts: Index) -> list[NDArray[Any]]:
    """The records of several whips, kind by kind."""
    sizes = (counts * [kind.itemsize for kind in _KINDS]).tolist()
    parts: tuple[list[bytes], ...] = ([], [], [])
    for columns, (rows, layers, _) in zip(kept, sizes, strict=True):
        body = zlib.decompress(memoryview(columns)[_COUNTS.size :])
        parts[0].append(body[:rows])
        parts[1].append(body[rows : rows + layers])
        parts[2].append(body[rows + layers :])
    return [np.frombuffer(b"".join(part), dtype=kind) for part, kind in zip(parts, _KINDS, strict=True)]


def _number_lots(whips: Sequence[NamedWhip], groups: Index, codes: Index, lots: dict[str, int]) -> None:
    """Turn each whip's own numbers of lots, in place, into those of ``lots``, which grows."""
    ends = np.cumsum(groups)
    for whip, start, end in zip(whips, ends - groups, ends, strict=True):
        if whip.kept.lots:
            numbers = np.array([*(lots.setdefault(x, len(lots)) for x in whip.kept.lots), -1], dtype=np.intp)
            codes[start:end] = numbers[codes[start:end]]


def _readings(
    whips: Sequence[NamedWhip],
    counts: Index,
    tables: Sequence[Mapping[str, NDArray[Any]]],
    lots: tuple[str, ...],
    cords: Mapping[int, Cord],
) -> Readings:
    row, layer, group = tables
    keys = sorted(cords)
    place = np.zeros(max(keys, default=0) + 1, dtype=np.intp)
    place[keys] = np.arange(len(keys))
    cord, occurring = _as_they_occur(place[group["cord"]], [cords[key] for key in keys])
    makers = list(dict.fromkeys(whip.maker for whip in whips if whip.maker is not None))
    of_whip = np.array([-1 if x.maker is None else makers.index(x.maker) for x in whips], dtype=np.int32)
    condition, conditions = _as_they_occur(row["condition"].astype(np.int32), CONDITIONS)
    method, methods = _as_they_occur(row["method"].astype(np.int32), METHODS)
    return Readings(
        stacks=StackColumns(
            foundation=row["foundation"],
            layer_row=layer["row"],
            layer_place=layer["place"],
            layer_kind=layer["kind"],
            layer_given=layer["given"],
            layer_turn=layer["turn"],
            layer_slot=layer["slot"],
            layer_float=layer["float"],
            group_row=group["row"],
            group_place=group["place"],
            group_cord=cord,
            group_gutted=group["gutted"],
            group_lot=group["lot"],
            group_low=group["low"],
            group_high=group["high"],
            cords=occurring,
            lots=lots,
        ),
        diameter_mm=row["diameter_mm"],
        at_mm=row["at_mm"],
        whip=np.repeat(np.arange(len(whips), dtype=np.int32), counts),
        maker=np.repeat(of_whip, counts),
        condition=condition,
        method=method,
        inner=row["inner"],
        doubtful=row["doubtful"],
        whips=tuple(whip.label for whip in whips),
        makers=tuple(makers),
        conditions=conditions,
        methods=methods,
    )


def _as_they_occur(codes: NDArray[Any], names: Sequence[Name]) -> tuple[NDArray[Any], tuple[Name, ...]]:
    """Codes that count the names in the order of their first occurrence, and those that occur; -1 stays."""
    first = np.full(len(names) + 1, len(codes), dtype=np.intp)
    first[codes[::-1]] = np.arange(len(codes))[::-1]  # of several, the last one written stays
    order = [k for k in np.argsort(first[:-1], kind="stable").tolist() if first[k] < len(codes)]
    renumbered = np.full(len(names) + 1, -1, dtype=codes.dtype)
    renumbered[order] = np.arange(len(order))
    return renumbered[codes], tuple(names[k] for k in order)
