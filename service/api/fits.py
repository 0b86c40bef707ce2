"""Fits: what was learnt from the recorded whips."""

from dataclasses import asdict
from threading import Lock
from typing import Any

from fastapi import Request

from plaitlog.service.api.answers import Answer, remarks
from plaitlog.service.api.bodies import JsonObject
from plaitlog.service.api.documented import BODY, LOCATION, PREFIX, answers, body, router
from plaitlog.service.api.parameters import Database, Key, Offset, PageSize
from plaitlog.service.api.refusals import Refused
from plaitlog.service.api.shapes import shape_from
from plaitlog.service.database import reading, write
from plaitlog.service.filling import fill_gathered
from plaitlog.service.reports.fit_report import to_json
from plaitlog.service.schemas.calculated import FitOut, FitReportOut, FitsPage
from plaitlog.service.schemas.fits_over_time import ComparisonOut, DriftOut
from plaitlog.service.schemas.wanted import AddIn, FitIn
from plaitlog.service.usecases.adding_to_fit import add_whip, store_added
from plaitlog.service.usecases.comparing_fits import compare
from plaitlog.service.usecases.drift import drift
from plaitlog.service.usecases.fitting import (
    FIT_RUNNING,
    NOTHING_TO_LEARN,
    FitInList,
    gather,
    list_fits,
    one_fit,
    put_in_force,
    store,
    weighed_whips,
    work_out,
)
from plaitlog.service.usecases.jobs import live_job
from plaitlog.service.usecases.reporting_fit import report_of
from plaitlog.service.usecases.shown_units import ShownUnits

routes = router("fits")
MM = ShownUnits("mm", "mm")
"""The units in which the interface tells everything."""


@routes.get("", summary="List fits", responses=answers(FitsPage, "Fits, the latest first."))
def list_all(database: Database, limit: PageSize = 50, offset: Offset = 0) -> Answer:
    """Stored fits, the latest first, a page at a time."""
    with reading(database) as session:
        found = list_fits(session)
    items = [fit_json(fit) for fit in found[offset : offset + limit]]
    return Answer({"total": len(found), "offset": offset, "items": items})


@routes.post(
    "",
    summary="Make a fit",
    status_code=201,
    responses=answers(FitOut, "The fit, now in force.", 409, *BODY, status=201, headers=LOCATION),
    openapi_extra=body("FitIn", with_evidence={"evidence": True}, quick={"evidence": False}),
)
def create(request: Request, database: Database, typed: JsonObject) -> Answer:
    """Learn from every recorded reading and put the fit in force.

    The answer comes when it is done: in seconds, with evidence and many whips in minutes. One fit is made
    at a time, and nothing waits for it meanwhile; whoever asks for a second one is told to try again.
    """
    wanted = shape_from(FitIn, typed)
    lock: Lock = request.app.state.fitting
    if not lock.acquire(blocking=False):
        raise Refused(503, FIT_RUNNING)
    try:
        with reading(database) as session:
            if live_job(session, "fit"):  # asked for on a page, worked on in a process of its own
                raise Refused(503, FIT_RUNNING)
        fill_gathered(database)
        with reading(database) as session:
            gathered, weighed = gather(session), weighed_whips(session)
        if not len(gathered.readings):
            raise Refused(409, NOTHING_TO_LEARN)
        worked = work_out(gathered, weighed, with_evidence=wanted.evidence, jobs=1)
        number = write(database, lambda session: store(session, worked))
    finally:
        lock.release()
    with reading(database) as session:
        made = one_fit(session, number)
    answer = fit_json(made, findings=remarks(worked.findings))
    return Answer(answer, 201, headers={"Location": f"{PREFIX}/fits/{number}"})


@routes.get(
    "/drift",
    summary="Do the latest whips drift",
    responses=answers(DriftOut, "Both checks, in words and as numbers.", 404),
)
def latest_whips(database: Database) -> Answer:
    """Whether whips the fit in force does not know, and the last ten it does, are off in one direction.

    The latter are held against a fit without them; each whip counts as one.
    """
    with reading(database) as session:
        return Answer(drift(session).to_json(MM))


@routes.post(
    "/in-force/whips",
    summary="Add a whip to the fit in force",
    status_code=201,
    responses=answers(FitOut, "The new fit, now in force.", 404, 409, *BODY, status=201, headers=LOCATION),
    openapi_extra=body("AddIn", whip={"whip": "2026-014"}),
)
def add(database: Database, typed: JsonObject) -> Answer:
    """Take one more whip into the fit in force, at once; its evidence stays that of the fit before."""
    wanted = shape_from(AddIn, typed)
    with reading(database) as session:
        added = add_whip(session, wanted.whip)
    number = write(database, lambda session: store_added(session, added))
    with reading(database) as session:
        made = one_fit(session, number)
    answer = fit_json(made, findings=remarks(added.findings))
    return Answer(answer, 201, headers={"Location": f"{PREFIX}/fits/{number}"})


@routes.get("/{key}", summary="One fit", responses=answers(FitOut, "The fit.", 404))
def one(database: Database, key: Key) -> Answer:
    """A fit by its number."""
    with reading(database) as session:
        return Answer(fit_json(one_fit(session, key)))


@routes.get(
    "/{key}/report", summary="Report on a fit", responses=answers(FitReportOut, "What it is worth.", 404)
)
def report(database: Database, key: Key) -> Answer:
    """What a fit is worth: how good against plain rivals, thin cords, odd readings and why they may be."""
    with reading(database) as session:
        return Answer(to_json(report_of(session, key, ShownUnits())))


@routes.get(
    "/{key}/compared-with/{other}",
    summary="Compare two fits",
    responses=answers(ComparisonOut, "What changed from the other fit to this one.", 404),
)
def compared(database: Database, key: Key, other: Key) -> Answer:
    """What changed from an earlier fit (`other`) to this one: cord by cord, at a named stack, in mm."""
    with reading(database) as session:
        return Answer(compare(session, other, key).to_json(MM))


@routes.post(
    "/{key}/in-force", summary="Put a fit in force", responses=answers(FitOut, "The fit, now in force.", 404)
)
def take(database: Database, key: Key) -> Answer:
    """Put an earlier fit back in force."""
    write(database, lambda session: put_in_force(session, key))
    with reading(database) as session:
        return Answer(fit_json(one_fit(session, key)))


def fit_json(fit: FitInList, **more: Any) -> dict[str, Any]:
    return {
        "fit": fit.number,
        "created_at": fit.created_at.isoformat(),
        "code_version": fit.code_version,
        "readings": fit.readings,
        "whips": fit.whips,
        "cords": fit.cords,
        "current": fit.current,
        "stale": fit.stale,
        "added": fit.added,
        "evidence": None if fit.evidence is None else fit.evidence.to_dict(with_held_out=False),
        "weighing": {name: asdict(one) for name, one in fit.weighing.items()},
        **more,
    }
