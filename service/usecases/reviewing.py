"""Readings of one whip beside what the fit expects there, so that a slip is seen."""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final

from plaitlog.models.calibration.observations import sd_of_interval
from plaitlog.models.calibration.prediction import Prediction, Query
from plaitlog.models.errors import Finding, RecordError, StackNotKnownError
from plaitlog.models.plausibility import check_whip
from plaitlog.models.whip import Cord, Reading, Whip
from plaitlog.service.usecases.observing import REASONS, observation
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits

FAR: Final = 3.0
"""A reading this many standard deviations away is worth a second look (one in 370 by chance)."""


@dataclass(frozen=True, slots=True)
class ReviewLine:
    """One reading and what is expected there; None, with a reason, where that cannot be told."""

    reading: Reading
    expected: Prediction | None
    reason: str = ""
    far: bool = False

    def cells(self, shown: ShownUnits) -> tuple[str, ...]:
        reading = self.reading
        at = reading.place or "" if reading.at_mm is None else shown.length(reading.at_mm)
        on = "finished" if reading.after_layer is None else f"layer {reading.after_layer}"
        measured = shown.diameter(reading.size_mm) + ("?" if reading.doubtful else "")
        if self.expected is None:
            return (at, measured, on, "", "", self.reason)
        return (
            at,
            measured,
            on,
            shown.diameter(self.expected.diameter_mm),
            shown.interval(self.expected.low_90_mm, self.expected.high_90_mm),
            "far off: look again" if self.far else "",
        )


@dataclass(frozen=True, slots=True)
class Review:
    lines: tuple[ReviewLine, ...]
    findings: tuple[Finding, ...]

    def to_json(self) -> dict[str, Any]:
        return {
            "readings": [
                {
                    "at_mm": line.reading.at_mm,
                    "after_layer": line.reading.after_layer,
                    "measured_mm": line.reading.size_mm,
                    "expected_mm": line.expected and line.expected.diameter_mm,
                    "low_90_mm": line.expected and line.expected.low_90_mm,
                    "high_90_mm": line.expected and line.expected.high_90_mm,
                    "reason": line.reason,
                    "far": line.far,
                }
                for line in self.lines
            ],
            "findings": [asdict(finding) for finding in self.findings],
        }


def place_in_table(line: ReviewLine) -> tuple[float, int]:
    """Sorts from the datum to the point, inner layers first; readings without a station last."""
    reading = line.reading
    at_mm = math.inf if reading.at_mm is None else reading.at_mm
    return at_mm, reading.after_layer or 99


def review(in_force: InForce, whip: Whip, cords: Mapping[str, Cord]) -> Review:
    """Every reading of a whip beside its prediction, and all that looks like a slip."""
    whip = placed(whip)
    lines: list[ReviewLine] = []
    queries: list[Query] = []
    for reading in whip.readings:
        try:
            seen = observation(whip, reading, cords)
        except StackNotKnownError as error:
            told = error.finding.text if whip.layers else REASONS["no-layers"]
            lines.append(ReviewLine(reading, None, told))
            continue
        queries.append(
            Query(
                stack=seen.stack,
                maker=seen.maker,
                condition=seen.condition,
                at_mm=seen.at_mm,
                inner=seen.inner,
            )
        )
        lines.append(ReviewLine(reading, None))
    answers = iter(in_force.predict(queries))
    beside = [line if line.reason else _beside(line.reading, next(answers)) for line in lines]
    far = [far_finding(place, line) for place, line in enumerate(beside, start=1) if line.far]
    try:
        slips = check_whip(whip)
    except RecordError as error:
        slips = (error.finding,)
    return Review(tuple(beside), (*slips, *far, *in_force.findings))


def _beside(reading: Reading, expected: Prediction) -> ReviewLine:
    width = sd_of_interval(expected.low_90_mm, expected.high_90_mm)
    off = math.log(reading.size_mm / expected.diameter_mm)
    return ReviewLine(reading, expected, far=abs(off) > FAR * width)


def far_finding(place: int, line: ReviewLine) -> Finding:
    """The remark on a reading far from what is expected; ``place`` counts from 1."""
    assert line.expected is not None
    return Finding(
        "far-from-prediction",
        f"{line.reading.size_mm:.1f} mm where {line.expected.diameter_mm:.1f} mm is expected "
        f"(90 %: {line.expected.low_90_mm:.1f} to {line.expected.high_90_mm:.1f})",
        "measure again, or check the strands there",
        f"readings {place}",
    )
