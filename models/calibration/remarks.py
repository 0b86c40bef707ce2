"""What there is to say about a query beside its diameter."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.observations import Query
from plaitlog.models.calibration.packed import ABSENT, PLAIT, Array, PackedStacks
from plaitlog.models.calibration.resolve import ResolvedStacks
from plaitlog.models.calibration.smooth import layer_points
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
    calibration: Calibration, queries: Sequence[Query], packed: PackedStacks, resolved: ResolvedStacks
) -> QueryFindings:
    """Findings for the first ``len(queries)`` rows of packed stacks."""
    n = len(queries)
    kind = packed.kind[:n]
    found: list[list[Finding]] = (
        [list(calibration.findings) for _ in range(n)] if not calibration.readings else [[] for _ in range(n)]
    )
    plait = kind == PLAIT
    any_plait = plait.any(axis=1) if kind.shape[1] else np.zeros(n, dtype=bool)
    last = kind.shape[1] - 1 - np.argmax(plait[:, ::-1], axis=1) if kind.shape[1] else np.zeros(n, dtype=int)
    outer = resolved.cover[np.arange(n), last] if kind.shape[1] else np.ones(n)
    cover: list[float | None] = [float(c) if p else None for c, p in zip(outer, any_plait, strict=True)]
    for i in np.flatnonzero(any_plait & (outer < LOW_COVER)).tolist():
        found[i].append(_cover_finding("cover-low", float(outer[i]), "gaps show", "add strands"))
    for i in np.flatnonzero(any_plait & (outer > HIGH_COVER)).tolist():
        found[i].append(_cover_finding("cover-high", float(outer[i]), "strands bunch", "take strands out"))

    new_cord = np.zeros(n, dtype=bool)
    remarks: dict[int, list[Finding]] = {
        k: _cord_findings(calibration, k, packed) for k in range(len(packed.cords))
    }
    here = packed.group_row < n
    here &= packed.kind[packed.group_row, packed.group_layer] != ABSENT
    pairs = np.unique(np.stack([packed.group_row[here], packed.group_cord[here]], axis=1), axis=0)
    told: set[tuple[int, str]] = set()
    for row, cord in pairs.tolist():
        name = packed.cords[cord].cord.name
        new_cord[row] |= name not in calibration.cords
        if (row, name) not in told and remarks[cord]:
            told.add((row, name))
            found[row].extend(remarks[cord])
    if calibration.readings:
        makers = {
            maker: Finding(
                "new-maker",
                f"no whip by {maker} is in the fit" if maker else "no maker is named",
                "the interval is wider for it; record whips with their maker",
            )
            for maker in {query.maker for query in queries}
            if (maker or "") not in calibration.makers
        }
        for i, query in enumerate(queries):
            if query.maker in makers:
                found[i].append(makers[query.maker])
        _add_outside(calibration, n, packed, resolved, found)
    spans = (packed.count_variance[:n] > 0).any(axis=1) if kind.shape[1] else np.zeros(n, dtype=bool)
    span = Finding(
        "count-range", "a strand count is given as a range; the interval covers it", "count the strands"
    )
    for i in np.flatnonzero(spans).tolist():
        found[i].append(span)
    return QueryFindings(cover, new_cord, [tuple(x) for x in found])


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
    packed: PackedStacks,
    resolved: ResolvedStacks,
    found: list[list[Finding]],
) -> None:
    points = layer_points(packed, resolved)[:n]
    present = (packed.kind[:n] > ABSENT) & (packed.kind[:n] <= PLAIT)
    low, high = calibration.ranges
    for coordinate, name in _OUTSIDE:
        values: Array = points[:, :, coordinate]
        beyond = present & ((values < low[coordinate] - BEYOND) | (values > high[coordinate] + BEYOND))
        finding = Finding(
            "outside-experience",
            f"{name} lies outside of all that was recorded",
            "expect less of this figure",
        )
        for i in np.flatnonzero(beyond.any(axis=1)).tolist():
            found[i].append(finding)
