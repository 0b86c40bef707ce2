"""What the data carry: makers, lots, conditions and methods have an effect where readings tell them apart.

A maker's level needs two makers with two whips each; before that it is part of what each whip has of its own.
A lot's level, within its cord, needs two lots of that cord with two whips each.
A condition, or a method, needs a second one: where all readings share one, the fit is of that one.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Final, TypeVar

import numpy as np

from plaitlog.models.calibration.readings import Codes, Levels, Readings
from plaitlog.models.calibration.stack_columns import Index, StackColumns
from plaitlog.models.errors import Finding
from plaitlog.models.whip import UNSTATED_CONDITION, Cord

WHIPS_EACH: Final = 2
NO_EFFECT: Final = -2
"""In place of a maker's number: no column, not even that of makers who are not noted."""
UNNOTED_LOT: Final = ""
USUAL_METHOD: Final = "caliper"
Rows = TypeVar("Rows", Levels, Readings)


def shared_levels(data: Readings) -> tuple[str, str]:
    """The condition and the method that all readings share; rolled and caliper where there are several."""
    return (
        _shared(data.condition, data.conditions, UNSTATED_CONDITION),
        _shared(data.method, data.methods, USUAL_METHOD),
    )


def about_shared(rows: Rows, condition: str, method: str) -> Rows:
    """The rows, those of the condition and the method that a fit is of without an effect.

    Where the fit is not of the usual one, rolled or caliper, that has an effect in its place.
    """
    conditions, names = _about(rows.condition, rows.conditions, UNSTATED_CONDITION, condition)
    methods, ways = _about(rows.method, rows.methods, USUAL_METHOD, method)
    return replace(rows, condition=conditions, conditions=names, method=methods, methods=ways)


def _shared(codes: Codes, names: Sequence[str], usual: str) -> str:
    occurring = np.unique(codes).tolist()
    return names[occurring[0]] if len(occurring) == 1 and occurring[0] >= 0 else usual


def _about(codes: Codes, names: tuple[str, ...], usual: str, shared: str) -> tuple[Codes, tuple[str, ...]]:
    if shared == usual:
        return codes, names
    place = [-1 if x == shared else len(names) if x == usual else k for k, x in enumerate(names)]
    # The last one is for what is not noted, which counts as the usual.
    return np.array([*place, len(names)], dtype=codes.dtype)[codes], (*names, f"not {shared}")


def as_carried(data: Readings) -> tuple[Readings, tuple[Finding, ...]]:
    """The readings without levels that they cannot tell apart, and what there is to say about it."""
    findings = []
    shared = shared_levels(data)
    if shared != (UNSTATED_CONDITION, USUAL_METHOD):
        data = about_shared(data, *shared)
        findings.append(_of_one(*shared))
    stacks = data.stacks
    if stacks.lots:
        cords = cords_with_lots(data)
        without = sorted({cord.name for cord in _cords_of_lots(stacks)} - cords)
        if without:
            findings.append(
                Finding(
                    "lots-not-told-apart",
                    f"lots are noted of {', '.join(without)}, but not of two whips each in two lots:"
                    " no difference between lots is taken into account",
                    "note the lot of more whips",
                )
            )
        data = replace(data, stacks=with_lots(stacks, cords))
    pairs = np.unique((data.maker.astype(np.intp) + 1) * len(data.whips) + data.whip)
    whips = np.bincount(pairs // max(len(data.whips), 1), minlength=1)[1:]
    if np.sum(whips >= WHIPS_EACH) < 2:
        if np.sum(whips > 0) > 1:
            findings.append(
                Finding(
                    "makers-not-told-apart",
                    "fewer than two makers have two whips each: what one maker does otherwise than another"
                    " is taken for a difference between whips",
                    "record more whips of each",
                )
            )
        data = replace(data, maker=np.full_like(data.maker, NO_EFFECT))
    return data, tuple(findings)


def as_in_fit(
    keyed: Collection[str], known_makers: Mapping[str, int], makers: Sequence[str], maker: Codes
) -> Codes:
    """Numbers of makers for a fit that knows the columns ``keyed``.

    Where it tells no makers apart its level is that of the maker of most readings, who has no effect of his
    own then; nor have whips whose maker is not noted, where the fit has such. Others, even one with a whip in
    the fit, are levels that it has not seen.
    """
    if any(name.startswith("maker:") for name in keyed):
        return maker
    most = max(known_makers.values(), default=0)
    own = {name for name, count in known_makers.items() if count == most or not name}
    known = np.array([name in own for name in ("", *makers)], dtype=bool)
    return np.where(known[maker + 1], NO_EFFECT, maker).astype(maker.dtype)


def lots_in_fit(keyed: Collection[str], stacks: StackColumns) -> StackColumns:
    """Stacks whose lots count for those cords whose lots a fit tells apart."""
    told = [name for name in keyed if name.startswith("lot:")]
    names = {cord.name for cord in stacks.cords} if told else set()
    cords = {name for name in names if any(x.startswith(f"lot:{name}|") for x in told)}
    return with_lots(stacks, cords) if cords or stacks.lots else stacks


def with_lots(stacks: StackColumns, cords: Collection[str]) -> StackColumns:
    """Lots of these cords only; strands of theirs whose lot is not noted are of the lot ``UNNOTED_LOT``."""
    counts = np.array([cord.name in cords for cord in stacks.cords], dtype=bool)
    lots = tuple(dict.fromkeys((*stacks.lots, UNNOTED_LOT)))
    theirs = counts[stacks.group_cord] if len(counts) else np.zeros(0, dtype=bool)
    noted = np.where(stacks.group_lot < 0, lots.index(UNNOTED_LOT), stacks.group_lot)
    return replace(stacks, lots=lots, group_lot=np.where(theirs, noted, -1).astype(np.intp))


def cords_with_lots(data: Readings) -> frozenset[str]:
    """Names of the cords of which two lots are in at least two whips each."""
    stacks = data.stacks
    noted = np.flatnonzero(stacks.group_lot >= 0)
    names, number = np.unique([cord.name for cord in stacks.cords], return_inverse=True)
    of_group: Index = number.reshape(-1)[stacks.group_cord[noted]]
    whips = data.whip[stacks.group_row[noted]]
    lot = of_group * len(stacks.lots) + stacks.group_lot[noted]
    lot_whips = np.unique(lot * len(data.whips) + whips)
    lots, count = np.unique(lot_whips // len(data.whips), return_counts=True)
    told = np.bincount(lots[count >= WHIPS_EACH] // len(stacks.lots), minlength=len(names))
    return frozenset(str(name) for name, n in zip(names, told, strict=True) if n >= 2)


def _of_one(condition: str, method: str) -> Finding:
    how = [condition] if condition != UNSTATED_CONDITION else []
    how += [f"measured by {method}"] if method != USUAL_METHOD else []
    text = f"all readings are {' and '.join(how)}: the fit is of such whips, what another way does is a guess"
    return Finding("of-one-kind", text, "measure some whips rolled, with calipers")


def _cords_of_lots(stacks: StackColumns) -> list[Cord]:
    return [stacks.cords[k] for k in np.unique(stacks.group_cord[stacks.group_lot >= 0]).tolist()]
