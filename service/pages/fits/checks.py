"""What is worked out beside a fit: gaps worth filling, drift of the latest whips, test plaits; two compared.

In a large workshop these take a while, so there they are worked out as a job and shown from its row.
"""

from typing import Annotated, Any, Final

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.service.database import reading
from plaitlog.service.jobs import Jobs
from plaitlog.service.pages.jobs import job_data
from plaitlog.service.pages.rendering import go_to, moment, page
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.comparing_fits import CordBefore, compare, half_mm
from plaitlog.service.usecases.describing_fits import recorded
from plaitlog.service.usecases.fit_checks import CHECKS, state_asked
from plaitlog.service.usecases.fitting import list_fits
from plaitlog.service.usecases.jobs import Job, latest_jobs
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.web_requests import KEY_LIMIT, Database

routes = APIRouter(include_in_schema=False)
AT_ONCE: Final = 5_000
"""Readings up to which a check is worked out while its page is waited for: about two seconds."""
FitNumber = Annotated[int, Query(ge=1, le=KEY_LIMIT)]


@routes.get("/fit/gaps")
def gaps_page(request: Request, database: Database) -> Response:
    return _checked(request, database, "gaps")


@routes.get("/fit/drift")
def drift_page(request: Request, database: Database) -> Response:
    return _checked(request, database, "drift")


@routes.get("/fit/test-plaits")
def plaits_page(request: Request, database: Database) -> Response:
    return _checked(request, database, "test-plaits")


@routes.post("/fit/gaps")
def begin_gaps(request: Request, database: Database) -> Response:
    return _begun(request, database, "gaps")


@routes.post("/fit/drift")
def begin_drift(request: Request, database: Database) -> Response:
    return _begun(request, database, "drift")


@routes.post("/fit/test-plaits")
def begin_plaits(request: Request, database: Database) -> Response:
    return _begun(request, database, "test-plaits")


def _checked(request: Request, database: Engine, what: str) -> Response:
    shown = preferences().shown
    content: dict[str, Any] | None = None
    with reading(database) as session:
        job = _latest(session, what, shown)
        large = recorded(session).readings > AT_ONCE
        if not large:
            content = CHECKS[what](session, shown)
        elif job is not None and job.state == "done" and job.result:
            content = job.result["content"]
    data = {
        "what": what,
        "content": content,
        "large": large,
        "job": job_data(job) if job is not None and job.live else None,
        "worked_out": moment(job.changed_at) if content and large and job else None,
    }
    return page(request, f"fit_{what.replace('-', '_')}.html", data)


def _latest(session: Session, what: str, shown: ShownUnits) -> Job | None:
    """The latest job that answers this, in these units, of the fit and the records as they are."""
    asked = state_asked(session, what, shown)
    return next((job for job in latest_jobs(session, "fit-check") if job.asked == asked), None)


def _begun(request: Request, database: Engine, what: str) -> Response:
    with reading(database) as session:
        asked = state_asked(session, what, preferences().shown)
    jobs: Jobs = request.app.state.jobs
    return go_to(f"/jobs/{jobs.start('fit-check', asked)}?then=go")


@routes.get("/fit/compare")
def compared(request: Request, database: Database, before: FitNumber, after: FitNumber) -> Response:
    """What changed from one fit to another."""
    shown = preferences().shown
    with reading(database) as session:
        found = compare(session, before, after)
        in_force = next((fit.number for fit in list_fits(session) if fit.current), None)
    data = {
        "before": before,
        "after": after,
        "in_force": in_force,
        "words": found.sentences(shown),
        "unit": shown.diameters,
        "cords": [_cord(one, shown) for one in found.cords],
    }
    return page(request, "fit_compare.html", data)


def _cord(one: CordBefore, shown: ShownUnits) -> dict[str, Any]:
    number = shown.diameter_number
    moved = shown.plus_minus(abs(one.moved_mm)).removeprefix("± ") if one.changed else ""
    return {
        "cord": one.cord,
        "stack": one.stack,
        "was": f"{number(one.before.diameter_mm)} {shown.plus_minus(half_mm(one.before))}",
        "is": f"{number(one.after.diameter_mm)} {shown.plus_minus(half_mm(one.after))}",
        "moved": moved and f"{'+' if one.moved_mm > 0 else '−'}{moved}",
        "changed": one.changed,
        "readings_was": one.readings_before,
        "readings_is": one.readings_after,
    }
