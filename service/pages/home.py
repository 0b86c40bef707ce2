"""The first page: three ways on in an empty workshop, else what is going on."""

from typing import Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy.orm import Session

from plaitlog.models.counted import counted
from plaitlog.models.errors import AlreadyThereError
from plaitlog.models.whip import ON_THE_BENCH
from plaitlog.service.database import reading
from plaitlog.service.jobs import Jobs
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.jobs import job_data
from plaitlog.service.pages.rendering import go_to, moment, page, path_of
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.jobs import latest_jobs
from plaitlog.service.usecases.overview import (
    Counts,
    FitState,
    Next,
    Unfinished,
    counts,
    demo_change,
    fit_state,
    next_thing,
    unfinished,
)
from plaitlog.service.usecases.predicting import CAUTION
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.whip_list import WhipLine, latest_whips
from plaitlog.service.usecases.workshop import is_empty
from plaitlog.service.web_requests import Database
from plaitlog.service.work.demo import NOT_EMPTY

routes = APIRouter(include_in_schema=False)

LAST: Final = 6
ON_THE_BENCH_AT_MOST: Final = 12


@routes.get("/")
def home(request: Request, database: Database) -> Response:
    with reading(database) as session:
        empty = is_empty(session)
        data = {
            "empty": empty,
            "drafts": [_draft(one) for one in unfinished(session)],
            "jobs": [job_data(job) for job in latest_jobs(session) if job.live],
            "overview": None if empty else _overview(session),
            "banner": banner(request, session),
        }
    return page(request, "home.html", data)


@routes.post("/demo")
def look_at_the_demo(request: Request, database: Database) -> Response:
    """Fill the empty workshop with the invented one, as long work."""
    with reading(database) as session:
        if not is_empty(session):
            raise AlreadyThereError(NOT_EMPTY)
    jobs: Jobs = request.app.state.jobs
    return go_to(f"/jobs/{jobs.start('demo', {})}")


def _overview(session: Session) -> dict[str, Any]:
    shown = preferences().shown
    found, fit = counts(session), fit_state(session)
    return {
        "counts": _counted(found),
        "on_the_bench": [
            {
                **_whip(line, shown),
                "measure": path_of("measure", line.label),
                "replan": f"/plan?{urlencode({'replan': line.label})}",
            }
            for line in latest_whips(session, ON_THE_BENCH_AT_MOST, ON_THE_BENCH)
        ],
        "last": [_whip(line, shown) for line in latest_whips(session, LAST)],
        "fit": None if fit is None else _fit(fit),
        "caution": CAUTION,
        "next": _next(next_thing(session, found, fit)),
        "demo_change": demo_change(session),
    }


def _draft(draft: Unfinished) -> dict[str, str]:
    return {
        "what": "plan" if draft.kind == "plan" else "whip",
        "title": draft.title,
        "address": path_of(draft.kind, draft.token),
        "when": moment(draft.changed_at),
    }


def _counted(found: Counts) -> list[dict[str, str]]:
    return [
        {"words": counted(found.whips, "whip"), "address": "/whips"},
        {"words": counted(found.cords, "cord"), "address": "/cords"},
        {"words": counted(found.readings, "reading"), "address": ""},
        {"words": counted(found.ratings, "rating session"), "address": "/handling"},
    ]


def _whip(line: WhipLine, shown: ShownUnits) -> dict[str, Any]:
    parts = [
        line.type,
        line.maker,
        None if line.thong_length_mm is None else shown.long_length(line.thong_length_mm),
        line.status,
        line.made_on.isoformat() if line.made_on else None,
        counted(line.readings, "reading") if line.readings else "no readings",
    ]
    return {
        "label": line.label,
        "address": path_of("whips", line.label),
        "parts": [part for part in parts if part],
    }


def _fit(fit: FitState) -> dict[str, Any]:
    return {
        "number": fit.number,
        "when": fit.created_at.astimezone().strftime("%Y-%m-%d"),
        "from": f"{counted(fit.readings, 'reading')} of {counted(fit.whips, 'whip')}",
        "stale": fit.stale,
        "unknown": fit.unknown,
        "unknown_words": counted(fit.unknown, "whip")
        + (" is" if fit.unknown == 1 else " are")
        + " new to it",
    }


def _next(found: Next) -> dict[str, str]:
    label = found.label
    words, address, why = {
        "record": ("Record a whip", "/record", "readings along a finished whip are what a fit learns from"),
        "measure": (
            f"Measure {label}",
            path_of("measure", label),
            "it is finished and has no reading, so nothing is learnt from it yet",
        ),
        "fit": ("Make a fit", "/fit", "there are readings, and nothing was learnt from them yet"),
        "refit": ("Fit again", "/fit", "the fit does not know all whips that were measured"),
        "rate": (
            f"Rate {label}",
            path_of("rate", label),
            "it is finished and was not rated; ratings tell what handles well",
        ),
        "gaps": (
            "See what is worth measuring next",
            "/fit/gaps",
            "every whip is read, rated and known to the fit",
        ),
    }[found.what]
    return {"words": words, "address": address, "why": why}
