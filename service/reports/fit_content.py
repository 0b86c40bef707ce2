"""A fit as plain data, drawn and worded: what the report on it and the page of it both show."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from statistics import median
from typing import Any

from plaitlog.models.calibration.evidence import MODEL, Coverage, Evidence, HeldReading, Kind, Scores
from plaitlog.models.units import MM_PER
from plaitlog.service.reports.fit_charts import agreement, coverage_by_depth, residuals, widths
from plaitlog.service.reports.fit_report import CordInFit, FitReport, OddReading, verdict
from plaitlog.service.reports.shown import Shown

HELD: dict[Kind, str] = {
    "whip": "Held out: whips, a fifth of them at a time",
    "cord": "Held out: every cord in turn",
    "maker": "Held out: every maker in turn",
    "rest": "Held out: the rest of a whip, after its first readings",
}
PARTS = 10
"""Parts of the thong that the figures beneath the residuals are told by, where readings suffice."""


def content(report: FitReport) -> dict[str, Any]:
    """Texts, tables, charts as SVG; only what JSON knows."""
    evidence, shown = report.evidence, report.shown
    by_name = sorted(report.cords, key=lambda cord: cord.name)
    worth = [(cord, one) for cord in by_name for one in cord.worth]
    return {
        "name": report.name,
        "number": report.number,
        "made": f"{report.made_at.astimezone():%Y-%m-%d %H:%M}",
        "version": report.code_version,
        "fingerprint": report.fingerprint,
        "current": report.current,
        "records_changed": report.records_changed,
        "rests_on": report.rests_on,
        "unit": shown.diameters,
        "words": list(verdict(report)),
        "figures": _figures(evidence, shown),
        "rival": _rival(evidence),
        "trials": list(_trial_rows(evidence, shown)) if evidence else [],
        "coverage": list(_coverage_rows(evidence)) if evidence else [],
        "charts": list(_charts(report)),
        "thin": _thin_words(report.thin) if report.thin else "",
        "cords": _cords(report),
        "worth": [
            {"cord": cord.name, "how": one.how, "words": one.words} for cord, one in worth if one.tells
        ],
        "worth_less": sum(not one.tells for _, one in worth),
        "test_plaits": [plait.words for plait in report.test_plaits],
        "odd": [_odd_row(one, shown) for one in report.odd],
        "odd_in_all": report.odd_in_all,
        "weight": list(report.weight),
        "findings": [
            {"text": f"{one.where}: {one.text}" if one.where else one.text, "remedy": one.remedy}
            for one in report.findings
        ],
    }


def _figures(evidence: Evidence | None, shown: Shown) -> list[dict[str, str]]:
    """The three figures that say most, on whips that the fit had not seen."""
    trial = evidence.trial("whip") if evidence else None
    if trial is None:
        return []
    told = _score_row(MODEL, trial.model, shown)
    return [
        {
            "value": f"{told['median']} {shown.diameters}",
            "words": "half of the readings are nearer than this",
        },
        {"value": told["error"], "words": "off, in the root mean square"},
        {"value": told["in_90"], "words": "of readings lie inside their 90 % interval"},
    ]


def _rival(evidence: Evidence | None) -> str:
    """The plain way to guess that comes nearest on whips not seen, in a sentence; empty where untested."""
    trial = evidence.trial("whip") if evidence else None
    rivals = {} if trial is None else {n: one.rmse_log for n, one in trial.scores.items() if n != MODEL}
    if trial is None or not rivals:
        return ""
    best = min(rivals, key=lambda name: rivals[name])
    own = f"On whips it had not seen the fit is off by {100 * trial.model.rmse_log:.1f} % (root mean square)"
    return f"{own}; the nearest plain way to guess, {best}, by {100 * rivals[best]:.1f} %."


def _cords(report: FitReport) -> dict[str, Any]:
    shown = report.shown
    return {
        "core": report.cords[0].core if report.cords else None,
        "hands": report.hands,
        "in_all": report.cords_in_all,
        "rows": [
            {
                "name": cord.name,
                "readings": cord.readings,
                "whips": cord.whips,
                "counts": cord.counts,
                "plait": f"{cord.overlay} strands: {shown.diameter_number(cord.diameter_mm)}",
                "interval": shown.interval(cord.low_90_mm, cord.high_90_mm),
                "thin": ", ".join(cord.thin),
            }
            for cord in report.cords
        ],
    }


def _trial_rows(evidence: Evidence, shown: Shown) -> Iterator[dict[str, Any]]:
    for held, scores, _ in _asked(evidence):
        yield {"held": held, "rows": [_score_row(name, one, shown) for name, one in scores.items()]}


def _coverage_rows(evidence: Evidence) -> Iterator[dict[str, Any]]:
    for held, _, covered in _asked(evidence):
        if covered:
            yield {"held": held, "rows": [_coverage_row(one) for one in covered]}


def _asked(evidence: Evidence) -> Iterator[tuple[str, Mapping[str, Scores], tuple[Coverage, ...]]]:
    """What was held out in words, scores and coverage: every trial, then the fits to few whips."""
    for trial in evidence.trials:
        yield HELD[trial.grouping], trial.scores, trial.covered
    for few in evidence.few_whips:
        yield f"Held out: all but {few.whips} of the whips", few.scores, few.covered


def _score_row(name: str, scores: Scores, shown: Shown) -> dict[str, Any]:
    median = scores.median_mm / float(MM_PER[shown.diameters])
    return {
        "own": name == MODEL,
        "name": "the fit" if name == MODEL else name,
        "error": f"{100 * scores.rmse_log:.1f} %",
        "median": f"{median:.3f}" if shown.diameters == "in" else f"{median:.2f}",
        "in_50": f"{100 * scores.coverage_50:.0f} %",
        "in_90": f"{100 * scores.coverage_90:.0f} %",
        "log_score": f"{scores.log_score:.2f}",
    }


def _coverage_row(one: Coverage) -> dict[str, Any]:
    return {
        "of": one.in_words,
        "readings": one.readings,
        "in_50": f"{100 * one.coverage_50:.0f} %",
        "in_90": f"{100 * one.coverage_90:.0f} %",
    }


def _charts(report: FitReport) -> Iterator[dict[str, Any]]:
    evidence = report.evidence
    if evidence is not None and evidence.held_out:
        held = evidence.held_out
        yield {
            "words": "Measured against predicted: readings whose whip was held out. A point on the line is "
            "right; a ring lies outside of its 90 % interval.",
            "svg": agreement(held, report.shown),
            "table": _agreement_table(held, report.shown),
        }
        if any(one.at_mm is not None for one in held):
            yield {
                "words": "The same readings along the thong: how much thicker each is than predicted. The "
                "broad line is the median; where it leaves the middle, the fit is off at that place.",
                "svg": residuals(held, report.shown),
                "table": _residuals_table(held, report.shown),
            }
    trial = None if evidence is None else evidence.trial("whip")
    if trial is not None and trial.covered:
        yield {
            "words": "Share of readings inside their intervals by plaited layers. The pale band is what "
            "chance alone would give so many readings; readings of one whip move together, so a little "
            "outside is no surprise.",
            "svg": coverage_by_depth(trial.covered),
            "table": _depth_table(trial.covered),
        }
    if report.cords:
        yield {
            "words": "How uncertain a typical plait of each cord is: half of the 90 % interval. Cords "
            "without a reading in another shade.",
            "svg": widths(report.cords),
            "table": _widths_table(report.cords),
        }


def _agreement_table(held: Sequence[HeldReading], shown: Shown) -> dict[str, Any]:
    number = shown.diameter_number
    rows = sorted(held, key=lambda one: (one.whip, one.at_mm or 0.0))
    unit = shown.diameters
    return {
        "heads": ["whip", "at", f"measured, {unit}", f"predicted, {unit}", f"90 %, {unit}"],
        "rows": [
            [
                one.whip,
                "" if one.at_mm is None else shown.length(one.at_mm),
                number(one.measured_mm),
                number(one.predicted_mm),
                shown.interval(one.low_90_mm, one.high_90_mm),
            ]
            for one in rows
        ],
    }


def _residuals_table(held: Sequence[HeldReading], shown: Shown) -> dict[str, Any]:
    """By part of the thong, since the readings themselves stand beneath the picture before."""
    placed = sorted(
        (one.at_mm, 100 * (one.measured_mm / one.predicted_mm - 1)) for one in held if one.at_mm is not None
    )
    parts = max(1, min(PARTS, len(placed) // 4))
    bounds = [round(k * len(placed) / parts) for k in range(parts + 1)]
    rows = []
    for first, end in pairwise(bounds):
        part = placed[first:end]
        off = [share for _, share in part]
        middle, most = f"{median(off):+.1f} %", f"{min(off):+.1f} to {max(off):+.1f} %"
        rows.append(
            [f"{shown.length(part[0][0])} to {shown.length(part[-1][0])}", f"{len(part)}", middle, most]
        )
    return {"heads": ["along the thong", "readings", "off in the median", "from and to"], "rows": rows}


def _depth_table(covered: Sequence[Coverage]) -> dict[str, Any]:
    rows = [_coverage_row(one) for one in covered if one.split == "depth"]
    return {
        "heads": ["readings on", "readings", "inside 50 %", "inside 90 %"],
        "rows": [[row["of"], f"{row['readings']}", row["in_50"], row["in_90"]] for row in rows],
    }


def _widths_table(cords: Sequence[CordInFit]) -> dict[str, Any]:
    return {
        "heads": ["cord", "readings", "± % of the diameter"],
        "rows": [[cord.name, f"{cord.readings}", f"{100 * cord.half_width:.1f}"] for cord in cords],
    }


def _thin_words(thin: tuple[CordInFit, ...]) -> str:
    told = [f"{cord.name} ({', '.join(cord.thin)})" for cord in sorted(thin, key=lambda cord: cord.name)]
    return f"Thin: {'; '.join(told)}. More readings of these would teach most."


def _odd_row(one: OddReading, shown: Shown) -> dict[str, str]:
    number = shown.diameter_number
    expected = number(one.expected_mm)
    cause = one.words or "no common slip explains it: measure there again"
    if one.neighbour_at_mm is not None:
        cause += f" (at {shown.length(one.neighbour_at_mm)})"
    return {
        "whip": one.whip,
        "at": "" if one.at_mm is None else shown.length(one.at_mm),
        "read": number(one.diameter_mm),
        "fits": expected if one.fitting_mm is None else f"{number(one.fitting_mm)} ({expected})",
        "cause": cause,
    }
