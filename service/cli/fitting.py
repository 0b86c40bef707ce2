"""``plaitlog fit`` and ``plaitlog fits``: learn from the records, look at what was learnt."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from plaitlog.service.cli.evidence_tables import print_evidence, print_weighing
from plaitlog.service.cli.fit_reports import PAGE, check_folder, write_report
from plaitlog.service.cli.fits_over_time import add_one, print_comparison, print_drift
from plaitlog.service.cli.options import AsJson, Database, Strict
from plaitlog.service.cli.output import as_json, end, finding_json, findings, result, say, table
from plaitlog.service.cli.progress import bar
from plaitlog.service.cli.workshop import engine, reading
from plaitlog.service.preferences import shown_units

if TYPE_CHECKING:
    from plaitlog.models.calibration.evidence import Evidence
    from plaitlog.service.usecases.fitting import WorkedOut

FEW_SUSPECTS = 10


def register(app: typer.Typer) -> None:
    app.command("fit")(fit)
    app.command("fits")(fits)


def fit(
    context: typer.Context,
    no_evidence: Annotated[
        bool, typer.Option("--no-evidence", help="Skip the cross-validation, which takes most of the time.")
    ] = False,
    jobs: Annotated[int | None, typer.Option(help="Processes for the cross-validation.")] = None,
    report: Annotated[
        Path | None,
        typer.Option("--report", metavar="DIR", help="Write fit.html and fit.json into this folder as well."),
    ] = None,
    add: Annotated[
        str | None,
        typer.Option(
            "--add",
            metavar="LABEL",
            help="Add this one whip to the fit in force, at once, instead of fitting again.",
        ),
    ] = None,
    json: AsJson = False,
    strict: Strict = False,
    database: Database = None,
) -> None:
    """Learn from every recorded reading how thick each cord really comes out; store it with its evidence."""
    from plaitlog.service import database as databases
    from plaitlog.service.filling import fill_gathered
    from plaitlog.service.usecases.fitting import gather, store, weighed_whips, work_out
    from plaitlog.service.usecases.reporting_fit import report_of

    if report is not None:
        check_folder(report)
    found = engine(context, database)
    if add is not None:
        end(add_one(found, add, report, json), strict)
        return
    with bar() as progress:
        fill_gathered(found, progress)
    with databases.reading(found) as session:
        gathered, weighed = gather(session), weighed_whips(session)
    say(f"Fitting {len(gathered.readings)} readings of {gathered.whips} whips ...")
    worked = work_out(gathered, weighed, with_evidence=not no_evidence, jobs=jobs)
    number = None
    if len(gathered.readings):
        number = databases.write(found, lambda session: store(session, worked))
    if report is not None and number is not None:
        with databases.reading(found) as session:
            write_report(report, report_of(session, number, shown_units(), gathered))
        say(f"See {report / PAGE}")
    if json:
        as_json(fit_json(number, worked))
    else:
        print_fit(number, worked)
    end(worked.findings, strict)


def fit_json(number: int | None, worked: "WorkedOut") -> dict[str, Any]:
    calibration = worked.calibration
    return {
        "fit": number,
        "readings": calibration.readings,
        "whips": calibration.whips,
        "cords": dict(calibration.cords),
        "makers": dict(calibration.makers),
        "fingerprint": worked.fingerprint,
        "code_version": calibration.code_version,
        "evidence": None if worked.evidence is None else worked.evidence.to_dict(),
        "weighing": worked.weighing.to_dict()["evidence"],
        "findings": [finding_json(finding) for finding in worked.findings],
    }


def print_fit(number: int | None, worked: "WorkedOut") -> None:
    """What was learnt from, how well it predicts what it had not seen, what to look at."""
    calibration = worked.calibration
    if number is None:
        result("There is nothing to learn from yet, so no fit is stored.")
        findings(finding for finding in worked.findings if finding.code != "no-fit")
        return
    result(
        f"Fit {number}, from now on in force: {calibration.readings} readings of {calibration.whips} whips "
        f"in {len(calibration.cords)} cords by {len([x for x in calibration.makers if x])} makers."
    )
    if worked.evidence is not None:
        result()
        print_evidence(worked.evidence)
    print_weighing(worked.weighing.evidence)
    told = {str(finding) for finding in worked.evidence.findings} if worked.evidence else set()
    rest = [finding for finding in worked.findings if str(finding) not in told]
    suspects = [finding for finding in rest if finding.code == "suspect-reading"]
    if rest:
        result()
        findings(finding for finding in rest if finding.code != "suspect-reading")
        findings(suspects[:FEW_SUSPECTS])
        if len(suspects) > FEW_SUSPECTS:
            result(f"note: ... and {len(suspects) - FEW_SUSPECTS} more readings that do not fit; see --json")


def fits(
    context: typer.Context,
    use: Annotated[
        int | None, typer.Option("--use", metavar="NUMBER", help="Put this fit back in force.")
    ] = None,
    evidence: Annotated[
        int | None, typer.Option("--evidence", metavar="NUMBER", help="Show the evidence of this fit.")
    ] = None,
    report: Annotated[
        tuple[int, Path] | None,
        typer.Option(
            "--report", metavar="NUMBER DIR", help="Write fit.html and fit.json on this fit into a folder."
        ),
    ] = None,
    comparing: Annotated[
        tuple[int, int] | None,
        typer.Option("--compare", metavar="NUMBER NUMBER", help="What changed from one fit to another."),
    ] = None,
    drift: Annotated[
        bool, typer.Option("--drift", help="Check whether the latest whips are off in one direction.")
    ] = False,
    json: AsJson = False,
    database: Database = None,
) -> None:
    """List the stored fits, and which of them predicts."""
    from plaitlog.models.errors import Finding, NotFoundError
    from plaitlog.service import database as databases
    from plaitlog.service.usecases.fitting import list_fits, put_in_force

    if use is not None:
        databases.write(engine(context, database), lambda session: put_in_force(session, use))
        say(f"Fit {use} is in force.")
    if report is not None:
        from plaitlog.service.usecases.reporting_fit import report_of

        number, folder = report
        check_folder(folder)
        with reading(context, database) as session:
            write_report(folder, report_of(session, number, shown_units()))
        say(f"See {folder / PAGE}")
        return
    if comparing is not None or drift:
        with reading(context, database) as session:
            if comparing is not None:
                print_comparison(session, *comparing, json)
            if drift:
                print_drift(session, json)
        return
    with reading(context, database) as session:
        found = list_fits(session)
    if json:
        as_json(
            [
                {
                    "fit": one.number,
                    "created_at": one.created_at.isoformat(),
                    "code_version": one.code_version,
                    "readings": one.readings,
                    "whips": one.whips,
                    "cords": one.cords,
                    "current": one.current,
                    "stale": one.stale,
                    "added": one.added,
                    "evidence": None if one.evidence is None else one.evidence.to_dict(with_held_out=False),
                }
                for one in found
            ]
        )
        return
    if evidence is not None:
        chosen = next((one for one in found if one.number == evidence), None)
        if chosen is None or chosen.evidence is None:
            what = f"fit {evidence} was stored without evidence" if chosen else f"no fit {evidence} is stored"
            raise NotFoundError(Finding("no-evidence", what, "see plaitlog fits, or fit again"))
        print_evidence(chosen.evidence, in_detail=True)
        print_weighing(chosen.weighing)
        return
    if not found:
        say("No fit is stored yet: plaitlog fit. Until then predictions rest on geometry alone.")
        return
    table(
        ("fit", "made", "readings", "whips", "cords", "new whip, rms", "new cord, rms", ""),
        [
            (
                one.number,
                f"{one.created_at.astimezone():%Y-%m-%d %H:%M}",
                one.readings,
                one.whips,
                one.cords,
                _rms(one.evidence, "whip"),
                _rms(one.evidence, "cord"),
                ", ".join(
                    filter(
                        None,
                        (
                            "in force" if one.current else "",
                            f"{one.added} added since it was fitted" if one.added else "",
                            "records changed since" if one.stale else "",
                        ),
                    )
                ),
            )
            for one in found
        ],
        right=("fit", "readings", "whips", "cords", "new whip, rms", "new cord, rms"),
    )


def _rms(evidence: "Evidence | None", grouping: Any) -> str:
    trial = None if evidence is None else evidence.trial(grouping)
    return "" if trial is None else f"{100 * trial.model.rmse_log:.1f} %"
