"""What to cut for a whip: every piece, from the path of its strands, long enough, and where its middle sits.

Lengths in mm as the cord is kept, before it is pulled. Running short ruins a layer, and being long costs
pennies: each strand is as long as the safe end of its interval, and a tail to hold.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Final

from plaitlog.models.mass import LaidSection, Resolve, by_geometry, laid_along
from plaitlog.models.stack import tuck_mm
from plaitlog.models.whip import Cord, Fate, Layer, Whip
from plaitlog.models.whole_mass import over_rod

TAIL_MM: Final = 300.0
"""To hold at the end of each strand: a foot (common practice, no source)."""
ROUNDED_TO_MM: Final = 10.0
"""Lengths are rounded up to this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """``pieces`` alike of one cord for one layer (slot, from 1).

    middle_mm : from its longer end to where it is folded at the heel, None for a piece that is one strand.
    ends_mm : where its strands end along the thong.
    """

    slot: int
    cord: str
    pieces: int
    length_mm: float
    middle_mm: float | None
    ends_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CordTotal:
    """Of one cord in all. grams : None without a linear density. lacks_m : beyond the stock, None unknown."""

    cord: str
    metres: float
    grams: float | None
    lacks_m: float | None
    price: float | None


def cut_list(
    whip: Whip,
    cords: Mapping[str, Cord],
    resolve: Resolve = by_geometry,
    safe: Mapping[str, float] | None = None,
) -> tuple[Piece, ...]:
    """Every piece for the layers that have strands, innermost first, the longest first.

    safe : by cord, the factor from the reckoned length of strands to the safe end of its interval.
    Raises as ``mass_distribution``.
    """
    along = laid_along(whip, cords, resolve=resolve)
    handle = _over_handle(whip, cords, resolve)
    found: list[Piece] = []
    for slot, layer in enumerate(whip.layers, start=1):
        for cord, ends in _ends(layer, whip.point_mm or 0.0):
            factor = (safe or {}).get(cord, 1.0)
            lengths = [
                _rounded_up((handle.get(slot, 0.0) + _path(along, slot, end)) * factor + TAIL_MM)
                for end in ends
            ]
            found.extend(_pieces(slot, cord, list(zip(lengths, ends, strict=True))))
    return tuple(found)


def totals(
    pieces: Sequence[Piece], cords: Mapping[str, Cord], stock_m: Mapping[str, float] | None = None
) -> tuple[CordTotal, ...]:
    """Metres, grams and price by cord; ``stock_m``: what is there of each, None where nothing is noted."""
    metres: dict[str, float] = {}
    for piece in pieces:
        metres[piece.cord] = metres.get(piece.cord, 0.0) + piece.pieces * piece.length_mm / 1000
    found = []
    for name, length in metres.items():
        cord = cords[name]
        density, price = cord.linear_density_g_per_m, cord.price_per_m
        there = None if stock_m is None else stock_m.get(name)
        found.append(
            CordTotal(
                cord=name,
                metres=length,
                grams=None if density is None else length * density,
                lacks_m=None if there is None else max(length - there, 0.0),
                price=None if price is None else length * price,
            )
        )
    return tuple(found)


def _ends(layer: Layer, point_mm: float) -> list[tuple[str, list[float]]]:
    """By cord of a layer where each of its strands ends inside the whip, the longest first."""
    steps = () if layer.schedule is None else layer.schedule.steps
    found: list[tuple[str, list[float]]] = []
    for k, cord in enumerate(layer.cords):
        ends: list[float] = []
        for before, after in pairwise(steps):
            dropped = round(before.counts[k].mid - after.counts[k].mid)
            ends += [_end(after.fate or layer.fate, after.place.mid_mm, point_mm)] * max(dropped, 0)
        if steps:
            ends += [point_mm] * round(steps[-1].counts[k].mid)
        found.append((cord.cord, sorted(ends, reverse=True)))
    return found


def _end(fate: Fate | None, at_mm: float, point_mm: float) -> float:
    if fate is None or fate.kind == "cut":
        return at_mm
    if fate.kind == "tuck":
        return min(at_mm + tuck_mm(fate), point_mm)
    return point_mm if fate.until_mm is None else fate.until_mm


def _path(along: Sequence[LaidSection], slot: int, end_mm: float) -> float:
    """Length of a strand of one layer from the datum to where it ends; where its layer is no longer plaited
    it lies straight."""
    total = 0.0
    for section in along:
        length = min(section.to_mm, end_mm) - section.from_mm
        if length <= 0:
            break
        laid = [one for one in section.layers if one.layer.slot == slot and one.layer.role != "filler"]
        total += length * (laid[0].path if laid else 1.0)
    return total


def _over_handle(whip: Whip, cords: Mapping[str, Cord], resolve: Resolve) -> dict[int, float]:
    """By slot the length of a strand over the handle, where the plaits of the thong run on over a rod."""
    over = over_rod(whip, cords, resolve=resolve)
    if over is None:
        return {}
    return {one.layer.slot: one.path * (over.to_mm - over.from_mm) for one in over.layers}


def _pieces(slot: int, cord: str, strands: Sequence[tuple[float, float]]) -> list[Piece]:
    """Strands that end near each other are the two of one piece; of an odd number the longest is alone."""
    alone = list(strands[:1]) if len(strands) % 2 else []
    rest = strands[len(alone) :]
    pairs = [(rest[k], rest[k + 1]) for k in range(0, len(rest), 2)]
    made = [
        Piece(slot=slot, cord=cord, pieces=1, length_mm=length, middle_mm=None, ends_mm=(end,))
        for length, end in alone
    ]
    for pair, members in groupby(pairs):
        (first, one), (second, other) = pair
        made.append(
            Piece(
                slot=slot,
                cord=cord,
                pieces=len(list(members)),
                length_mm=first + second,
                middle_mm=first,
                ends_mm=(one, other),
            )
        )
    return made


def _rounded_up(length_mm: float) -> float:
    return -(-length_mm // ROUNDED_TO_MM) * ROUNDED_TO_MM
