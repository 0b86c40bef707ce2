"""Fits over time: two of them beside each other, whether the latest whips drift, one more whip added."""

from pathlib import Path
from typing import TYPE_CHECKING

from plaitlog.models.errors import Finding
from plaitlog.service.cli.fit_reports import PAGE, write_report
from plaitlog.service.cli.output import as_json, finding_json, findings, result, say, table
from plaitlog.service.preferences import shown_units

if TYPE_CHECKING:
    from sqlalchemy import Engine
    from sqlalchemy.orm import Session

MOST = 20
"""Cords in the table of a comparison; all of them are in its JSON."""


def print_comparison(session: "Session", before: int, after: int, json: bool) -> None:
    """What changed, in words and as a table of every cord."""
    from plaitlog.service.usecases.comparing_fits import compare, half_mm

    shown = shown_units()
    found = compare(session, before, after)
    if json:
        as_json(found.to_json(shown))
        return
    for sentence in found.sentences(shown):
        result(sentence)
    if not found.cords:
        return
    result()
    columns = ("90 % was", "90 % is", "was", "is", "moved", "readings was", "readings is")
    table(
        ("cord", "strands", "was", "90 % was", "is", "90 % is", "moved", "readings was", "readings is"),
        [
            (
                line.cord,
                line.stack,
                shown.diameter(line.before.diameter_mm),
                f"± {half_mm(line.before):.2f} mm",
                shown.diameter(line.after.diameter_mm),
                f"± {half_mm(line.after):.2f} mm",
                f"{round(line.moved_mm, 2) + 0.0:+.2f} mm",
                line.readings_before,
                line.readings_after,
            )
            for line in found.cords[:MOST]
        ],
        right=columns,
    )
    if len(found.cords) > MOST:
        result(f"... and {len(found.cords) - MOST} more cords; see --json")


def print_drift(session: "Session", json: bool) -> None:
    """Both checks in words, then each whip."""
    from plaitlog.service.usecases.drift import drift

    shown = shown_units()
    found = drift(session)
    if json:
        as_json(found.to_json(shown))
        return
    for checked in (found.since, found.latest):
        if not checked.whips:
            continue
        result(checked.sentence(shown))
        if checked.shift is not None:
            table(
                ("whip", "readings", "off by"),
                [(one.whip, one.readings, f"{100 * one.off_log:+.1f} %") for one in checked.shift.whips],
                right=("readings", "off by"),
            )
            result()
    result("Each whip counts as one, however many readings it has.")
    findings(found.findings)


def add_one(engine: "Engine", label: str, report: Path | None, json: bool) -> tuple[Finding, ...]:
    """Add a whip to the fit in force and say what came of it; gives the findings."""
    from plaitlog.service import database as databases
    from plaitlog.service.usecases.adding_to_fit import add_whip, store_added
    from plaitlog.service.usecases.reporting_fit import report_of

    with databases.reading(engine) as session:
        added = add_whip(session, label)
    number = databases.write(engine, lambda session: store_added(session, added))
    if report is not None:
        with databases.reading(engine) as session:
            write_report(report, report_of(session, number, shown_units()))
        say(f"See {report / PAGE}")
    told = added.findings
    if json:
        as_json(
            {
                "fit": number,
                "before": added.before,
                "added": label,
                "readings_added": added.readings,
                "readings": added.calibration.readings,
                "whips": added.calibration.whips,
                "findings": [finding_json(finding) for finding in told],
            }
        )
        return told
    result(
        f"Fit {number}, from now on in force: fit {added.before} and {added.readings} readings of {label}; "
        f"{added.calibration.readings} readings of {added.calibration.whips} whips."
    )
    findings(told)
    return told
