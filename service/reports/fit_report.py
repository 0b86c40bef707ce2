"""What a fit is worth, as data for a page and for a program: from what, how good, what is thin or odd."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from plaitlog.models.calibration.evidence import MODEL, Evidence
from plaitlog.models.calibration.ratio_evidence import RatioEvidence
from plaitlog.models.calibration.whip_ratio_words import weighing_sentences
from plaitlog.models.counted import counted
from plaitlog.models.errors import Finding
from plaitlog.service.reports.shown import Shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """What one measurement that a cord lacks would do to the interval of its typical plait.

    tells : whether it would change the figures visibly.
    """

    measurement: str
    how: str
    low_90_mm: float
    high_90_mm: float
    words: str
    tells: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CordInFit:
    """One cord of the workshop: what teaches it, and how thick a typical plait of it comes out (mm).

    counts : different strand counts in plaits. thin : what there is little of, in words.
    """

    name: str
    readings: int
    whips: int
    counts: int
    thin: tuple[str, ...]
    core: int
    overlay: int
    diameter_mm: float
    low_90_mm: float
    high_90_mm: float
    worth: tuple[Worth, ...] = ()

    @property
    def half_width(self) -> float:
        """Half of the 90 % interval as a share of the diameter."""
        return (self.high_90_mm - self.low_90_mm) / 2 / self.diameter_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class OddReading:
    """A reading that does not fit, what the rest of its whip lets expect, and the likeliest slip.

    code, words, fitting_mm, neighbour_at_mm : of the slip, None where no common one explains it.
    """

    whip: str
    at_mm: float | None
    diameter_mm: float
    expected_mm: float
    low_90_mm: float
    high_90_mm: float
    code: str | None = None
    words: str | None = None
    fitting_mm: float | None = None
    neighbour_at_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposed:
    """A test plait and what it would bring: in words, and as plain values for a program."""

    words: str
    data: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class FitReport:
    """Everything the report shows. ``records_changed``: whips, readings or cords changed since the fit; then
    cords and odd readings are told from the records as they are now. hands : the maker whose plaits of each
    cord are predicted, None where nobody is noted. weighing : evidence for weight, balance and cord use."""

    number: int
    made_at: dt.datetime
    code_version: str
    fingerprint: str
    current: bool
    records_changed: bool
    readings: int
    whips: int
    makers: int
    evidence: Evidence | None
    cords: tuple[CordInFit, ...]
    cords_in_all: int
    hands: str | None
    odd: tuple[OddReading, ...]
    odd_in_all: int
    test_plaits: tuple[Proposed, ...]
    weighing: Mapping[str, RatioEvidence]
    findings: tuple[Finding, ...]
    shown: Shown

    @property
    def name(self) -> str:
        return f"Fit {self.number}"

    @property
    def rests_on(self) -> str:
        """From what it learnt, in words."""
        known = sum(1 for cord in self.cords if cord.readings)
        makers = f" by {counted(self.makers, 'maker')}" if self.makers else ""
        read = f"{counted(self.readings, 'reading')} of {counted(self.whips, 'whip')}"
        return f"{read} in {counted(known, 'cord')}{makers}"

    @property
    def weight(self) -> tuple[str, ...]:
        """How well weights, balance points and cord use are predicted, in words; empty: not tested."""
        return tuple(weighing_sentences(self.weighing))

    @property
    def thin(self) -> tuple[CordInFit, ...]:
        return tuple(cord for cord in self.cords if cord.thin)


def verdict(report: FitReport) -> tuple[str, ...]:
    """How good the fit is against its rivals, in sentences, the most important one first."""
    evidence = report.evidence
    if evidence is None or not evidence.trials:
        return ("Nothing was held out, so there is no evidence for this fit beyond its own word.",)
    lost = [trial for trial in evidence.trials if trial.winner != MODEL]
    if not lost:
        first = "Wherever it was tested it comes nearer than all three plain ways to guess."
    elif len(lost) == len(evidence.trials):
        first = "Wherever it was tested a plain way to guess comes nearer: do not rely on it yet."
    else:
        where = " and ".join(_ASKED[trial.grouping] for trial in lost)
        first = f"A plain way to guess comes nearer {where}; elsewhere the fit does."
    return (first, *evidence.in_words().splitlines())


_ASKED = {
    "whip": "on a new whip",
    "cord": "on a cord never recorded",
    "maker": "on an unknown maker",
    "rest": "on the rest of a measured whip",
}


def to_json(report: FitReport) -> dict[str, Any]:
    """The report for a program: sizes in mm, errors as natural logarithms, words in English."""
    told: dict[str, Any] = {
        name: getattr(report, name)
        for name in (
            "number", "code_version", "fingerprint", "current", "records_changed", "readings", "whips",
            "makers", "cords_in_all", "hands", "odd_in_all",
        )
    }  # fmt: skip
    told["fit"] = told.pop("number")
    return {
        **told,
        "made_at": report.made_at.isoformat(),
        "rests_on": report.rests_on,
        "verdict": list(verdict(report)),
        "evidence": None if report.evidence is None else report.evidence.to_dict(),
        "cords": [_plain(asdict(cord)) for cord in report.cords],
        "odd_readings": [asdict(one) for one in report.odd],
        "test_plaits": [one.data for one in report.test_plaits],
        "weight": list(report.weight),
        "weighing": {name: asdict(one) for name, one in report.weighing.items()},
        "findings": [asdict(finding) for finding in report.findings],
    }


def _plain(told: Mapping[str, Any]) -> dict[str, Any]:
    return {**told, "thin": list(told["thin"]), "worth": list(told["worth"])}
