"""What there is to say about the readings of a fit before it is trusted: what they cannot tell, in words."""

from collections.abc import Iterator
from typing import Final

import numpy as np

from plaitlog.models.calibration.packed import pack
from plaitlog.models.calibration.readings import Readings
from plaitlog.models.calibration.resolve import resolve
from plaitlog.models.errors import Finding
from plaitlog.models.geometry import GeometryConstants

IN_WORDS: Final = {
    "residual": "the scatter of single readings",
    "whip": "the difference between one whip and the next",
    "drift": "the drift along a whip",
    "slot": "the pull of single layers",
    "cord": "the difference between cords",
    "cord_role": "the difference of a cord inside and plaited",
    "cord_count": "the difference between strand counts",
    "smooth": "the bend that geometry does not know",
    "maker": "the difference between makers",
    "lot": "the difference between lots",
}
"""Standard deviations of the model as a maker may think of them."""
FEW_STATIONS_FROM: Final = 4
"""Readings from which it is remarked that they all lie at one station, or are all of one size."""
THINNEST_TO_THICKEST: Final = 1.3
"""Where geometry alone spreads sizes as wide as this, readings all of one size were not measured (own
judgement)."""
NOTHING_LEARNT: Final = Finding(
    "nothing-learnt", "nothing was learnt: sizes rest on geometry and priors alone", "mend the readings"
)


def teaches_nothing(data: Readings, constants: GeometryConstants) -> bool:
    """Whether all readings are of one size, on stacks that cannot all be of one size."""
    if len(data) < FEW_STATIONS_FROM or np.ptp(data.diameter_mm) > 0:
        return False
    packed = pack(data.stacks, constants)
    sizes = resolve(packed, np.zeros(packed.kind.shape), constants, slopes=False).diameter
    return bool(sizes.max() > THINNEST_TO_THICKEST * sizes.min())


def in_words(finding: Finding) -> Finding:
    """A finding of the estimation that names a component, as one that names what it stands for."""
    if finding.code != "component-at-bound" or finding.where not in IN_WORDS:
        return finding
    text = f"{IN_WORDS[finding.where]} cannot be told from these readings"
    return Finding(finding.code, text, "look for readings copied from others; record more whips")


def data_findings(data: Readings) -> Iterator[Finding]:
    """Remarks on readings that leave something open."""
    if len(data) >= FEW_STATIONS_FROM:
        if np.ptp(data.diameter_mm) == 0:
            size = float(data.diameter_mm[0])
            yield Finding(
                "constant-readings",
                f"all {len(data)} readings are {size:g} mm: they cannot tell what makes a whip thick",
                "check that they were measured",
            )
        stations = np.unique(data.at_mm)
        if len(stations) == 1 and np.isfinite(stations[0]):
            yield Finding(
                "one-station",
                f"all readings lie at {float(stations[0]):g} mm: nothing is known of the rest of a whip",
                "measure along the whole thong",
            )
    for names in cords_always_together(data):
        yield Finding(
            "cords-together",
            f"{' and '.join(names)} were never measured one without the other: which of them is thick and"
            " which thin cannot be told",
            "a test plait of one of them alone would tell",
        )


def cords_always_together(data: Readings) -> list[tuple[str, ...]]:
    """Names of cords that lie in the same readings, in all of them."""
    stacks = data.stacks
    present = stacks.group_high > 0
    names, number = np.unique([cord.name for cord in stacks.cords], return_inverse=True)
    lies = np.zeros((len(names), len(data)), dtype=bool)
    lies[number.reshape(-1)[stacks.group_cord[present]], stacks.group_row[present]] = True
    # Two sums of random whole numbers, one for each reading, stand for the set of readings.
    marks = np.random.default_rng(0).integers(1, 2**30, size=(2, len(data))).astype(float)
    sums = [np.array([mark[row].sum() for row in lies]) for mark in marks]
    groups: dict[tuple[float, ...], list[str]] = {}
    for name, *key in zip(names.tolist(), *(x.tolist() for x in sums), strict=True):
        if key[0] > 0:
            groups.setdefault(tuple(key), []).append(name)
    return [tuple(group) for group in groups.values() if len(group) > 1]
