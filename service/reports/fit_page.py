"""The report on a fit as one page of HTML that needs nothing else: no script, no outside resource.

It prints on A4 and Letter, and can be read on a narrow and a wide screen, by day and by night.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from plaitlog.models.calibration.evidence import MODEL, Coverage, Evidence, Kind, Scores
from plaitlog.models.units import MM_PER
from plaitlog.service.reports.fit_charts import agreement, coverage_by_depth, residuals, widths
from plaitlog.service.reports.fit_report import CordInFit, FitReport, OddReading, verdict
from plaitlog.service.reports.page import markup, rendered
from plaitlog.service.reports.shown import Shown

HELD: dict[Kind, str] = {
    "whip": "Held out: whips, a fifth of them at a time",
    "cord": "Held out: every cord in turn",
    "maker": "Held out: every maker in turn",
    "rest": "Held out: the rest of a whip, after its first readings",
}


def to_html(report: FitReport) -> str:
    """The page; names and words of the records are text in it, whatever they hold."""
    evidence, shown = report.evidence, report.shown
    by_name = sorted(report.cords, key=lambda cord: cord.name)
    worth = [(cord, one) for cord in by_name for one in cord.worth]
    return rendered(
        "fit_report.html",
        report=report,
        shown=shown,
        unit=shown.diameters,
        made=f"{report.made_at.astimezone():%Y-%m-%d %H:%M}",
        words=verdict(report),
        trials=list(_trial_rows(evidence, shown)) if evidence else [],
        coverage=list(_coverage_rows(evidence)) if evidence else [],
        charts=list(_charts(report)),
        thin_words=_thin_words(report.thin),
        worth=[{"cord": cord.name, "how": one.how, "words": one.words} for cord, one in worth if one.tells],
        worth_less=sum(not one.tells for _, one in worth),
        odd=[_odd_row(one, shown) for one in report.odd],
    )


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
            "svg": markup(agreement(held, report.shown)),
        }
        if any(one.at_mm is not None for one in held):
            yield {
                "words": "The same readings along the thong: how much thicker each is than predicted. The "
                "broad line is the median; where it leaves the middle, the fit is off at that place.",
                "svg": markup(residuals(held, report.shown)),
            }
    trial = None if evidence is None else evidence.trial("whip")
    if trial is not None and trial.covered:
        yield {
            "words": "Share of readings inside their intervals by plaited layers. The pale band is what "
            "chance alone would give so many readings; readings of one whip move together, so a little "
            "outside is no surprise.",
            "svg": markup(coverage_by_depth(trial.covered)),
        }
    if report.cords:
        yield {
            "words": "How uncertain a typical plait of each cord is: half of the 90 % interval. Cords "
            "without a reading in another shade.",
            "svg": markup(widths(report.cords)),
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
