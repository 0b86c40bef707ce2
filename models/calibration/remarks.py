"""What there is to say about a query beside its diameter."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.features import Strands
from plaitlog.models.calibration.observations import Query
from plaitlog.models.calibration.packed import ABSENT, PLAIT, Array, PackedStacks
from plaitlog.models.calibration.resolve import ResolvedStacks
from plaitlog.models.errors import Finding

LOW_COVER: Final = 0.70
HIGH_COVER: Final = 1.05
"""Outside of these gaps show or strands bunch (common practice, no source)."""
BEYOND: Final = 0.35
"""How far beyond the recorded range, in length scales of the smooth, a layer may lie without a remark."""
_OUTSIDE: Final = (
    (0, "the cover"),
    (1, "the body inside, against the cord,"),
    (2, "the strand count"),
    (4, "the cord's diameter"),
)


@dataclass(frozen=True)
class QueryFindings:
    """Per query: cover of the outermost plaited layer, whether a cord is new, findings."""

    cover: list[float | None]
    new_cord: NDArray[np.bool_]
    findings: list[tuple[Finding, ...]]


def query_findings(
    calibration: Calibration,
    queries: Sequence[Query],
    packed: PackedStacks,
    resolved: ResolvedStacks,
    strands: Strands,
) -> QueryFindings:
    """Findings for the first ``len(queries)`` rows of packed stacks."""
    n = len(queries)
    common = [] if calibration.readings else list(calibration.findings)
    found: list[list[Finding]] = [common.copy() for _ in range(n)]
    cover = _add_cover(n, strands, resolved, found)
    new_cord = _add_cords(calibration, n, packed, found)
    if calibration.readings:
        _add_roles(calibration, n, packed, found)
        _add_makers(calibration, queries, found)
        _add_outside(calibration, n, resolved, strands, found)
    spans = (packed.count_variance[:n] > 0).any(axis=1)
    span = Finding(
        "count-range", "a strand count is given as a range; the interval covers it", "count the strands"
    )
    for i in np.flatnonzero(spans).tolist():
        found[i].append(span)
    return QueryFindings(cover, new_cord, [tuple(x) for x in found])


def _add_cover(
    n: int, strands: Strands, resolved: ResolvedStacks, found: list[list[Finding]]
) -> list[float | None]:
    """Cover of the outermost plaited layer of every query, with remarks where it is unusual."""
    plaited = strands.plaited & (strands.row < n)
    outer = np.full(n, np.nan)
    outer[strands.row[plaited]] = resolved.cover[strands.row[plaited], strands.layer[plaited]]
    for i in np.flatnonzero(outer < LOW_COVER).tolist():
        found[i].append(_cover_finding("cover-low", float(outer[i]), "gaps show", "add strands"))
    for i in np.flatnonzero(outer > HIGH_COVER).tolist():
        found[i].append(_cover_finding("cover-high", float(outer[i]), "strands bunch", "take strands out"))
    return [None if value != value else value for value in outer.tolist()]


def _add_cords(
    calibration: Calibration, n: int, packed: PackedStacks, found: list[list[Finding]]
) -> NDArray[np.bool_]:
    """Whether a query holds a cord without readings; remarks on such cords and on those not weighed."""
    new_cord = np.zeros(n, dtype=bool)
    remarks = [_cord_findings(calibration, k, packed) for k in range(len(packed.cords))]
    unknown = np.array([p.cord.name not in calibration.cords for p in packed.cords], dtype=bool)
    remarkable = np.array([bool(x) for x in remarks], dtype=bool)
    here = packed.group_row < n
    here &= packed.kind[packed.group_row, packed.group_layer] != ABSENT
    if not here.any():
        return new_cord
    row, cord = packed.group_row[here], packed.group_cord[here]
    new_cord[row[unknown[cord]]] = True
    told: set[tuple[int, str]] = set()
    for i, k in zip(row[remarkable[cord]].tolist(), cord[remarkable[cord]].tolist(), strict=True):
        name = packed.cords[k].cord.name
        if (i, name) not in told:
            told.add((i, name))
            found[i].extend(remarks[k])
    return new_cord


def _add_roles(calibration: Calibration, n: int, packed: PackedStacks, found: list[list[Finding]]) -> None:
    """Remarks on cords that were recorded inside only and are plaited here, or the other way round."""
    told = set(calibration.keyed)
    here = packed.group_row < n
    here &= packed.kind[packed.group_row, packed.group_layer] != ABSENT
    row, cord = packed.group_row[here], packed.group_cord[here]
    plaited = packed.kind[row, packed.group_layer[here]] == PLAIT
    for k, is_plaited in {*zip(cord.tolist(), plaited.tolist(), strict=True)}:
        name = packed.cords[k].cord.name
        role, other = ("plait", "bundle") if is_plaited else ("bundle", "plait")
        if f"cord_role:{name}|{role}" in told or f"cord_role:{name}|{other}" not in told:
            continue
        where = "inside, never plaited" if is_plaited else "plaited, never inside"
        finding = Finding(
            "role-not-seen",
            f"{name} was only recorded {where}",
            "a short test plait would tell" if is_plaited else "record a whip with it inside",
        )
        for i in np.unique(row[(cord == k) & (plaited == is_plaited)]).tolist():
            found[i].append(finding)


def _add_makers(calibration: Calibration, queries: Sequence[Query], found: list[list[Finding]]) -> None:
    makers = {
        maker: Finding(
            "new-maker",
            f"no whip by {maker} is in the fit" if maker else "no maker is named",
            "the interval is wider for it; record whips with their maker",
        )
        for maker in {query.maker for query in queries}
        if (maker or "") not in calibration.makers
    }
    if makers:
        for i, query in enumerate(queries):
            if query.maker in makers:
                found[i].append(makers[query.maker])


def _cover_finding(code: str, cover: float, what: str, remedy: str) -> Finding:
    return Finding(code, f"the outer plait covers {cover:.2f}: {what}", remedy)


def _cord_findings(calibration: Calibration, index: int, packed: PackedStacks) -> list[Finding]:
    properties = packed.cords[index]
    cord, findings = properties.cord, []
    if calibration.readings and cord.name not in calibration.cords:
        findings.append(
            Finding(
                "new-cord", f"{cord.name} has no reading in the fit", "a short test plait would tell most"
            )
        )
    if properties.unweighed:
        what = "neither weighed nor measured" if cord.diameter_mm is None else "not weighed"
        findings.append(
            Finding(
                "cord-not-weighed", f"{cord.name} is {what}: its fibre area is a guess", "weigh 10 m of it"
            )
        )
    return findings


def _add_outside(
    calibration: Calibration,
    n: int,
    resolved: ResolvedStacks,
    strands: Strands,
    found: list[list[Finding]],
) -> None:
    points = strands.moved_points(resolved)
    low, high = calibration.ranges
    for coordinate, name in _OUTSIDE:
        values: Array = points[:, coordinate]
        beyond = (values < low[coordinate] - BEYOND) | (values > high[coordinate] + BEYOND)
        finding = Finding(
            "outside-experience",
            f"{name} lies outside of all that was recorded",
            "expect less of this figure",
        )
        for i in np.unique(strands.row[beyond & (strands.row < n)]).tolist():
            found[i].append(finding)
