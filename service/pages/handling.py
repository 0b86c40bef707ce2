"""What goes with good ratings: one question in a short form, the answer in words, pictures and figures.

A large workshop takes a while, so there the answer is worked out as a job and shown from its row.
"""

from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.handling.spoken import spoken
from plaitlog.models.whip import QUALITIES
from plaitlog.service.database import reading
from plaitlog.service.pages.refusals import told
from plaitlog.service.pages.rendering import go_to, page
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.handling.asking import answer_content, asked_of, rated_whips, types_rated
from plaitlog.service.usecases.jobs import latest_jobs
from plaitlog.service.web_requests import Database

routes = APIRouter(include_in_schema=False)
AT_ONCE: Final = 300
"""Rated whips up to which the answer is worked out while the page is waited for: about a second."""
KINDS: Final = ("quality", "type", "everything", "like", "try")


@routes.get("/handling")
def handling_page(request: Request, database: Database) -> Response:
    """The question is in the address, so that an answer can be kept or sent."""
    typed = {key: request.query_params.get(key, "").strip() for key in KINDS}
    shown = preferences().shown
    answer: dict[str, Any] | None = None
    error: Finding | None = None
    with reading(database) as session:
        types, rated = types_rated(session), rated_whips(session)
        try:
            if rated > AT_ONCE:
                answer = _worked_out(session, typed)
            elif rated:
                answer = answer_content(session, asked_of(session, typed), shown)
        except InputError as problem:
            error = problem.finding
    data = {
        "typed": typed,
        "qualities": [[quality, spoken(quality)] for quality in QUALITIES],
        "types": [[type_, type_] for type_ in types],
        "rated": rated,
        "large": rated > AT_ONCE,
        "answer": answer,
        "error": None if error is None else told(error),
    }
    return page(request, "handling.html", data, 200 if error is None else 422)


def _worked_out(session: Session, typed: dict[str, str]) -> dict[str, Any] | None:
    """The latest answer to the same question."""
    for job in latest_jobs(session, "handling"):
        if job.state == "done" and job.result and job.asked.get("typed") == typed:
            answer: dict[str, Any] = job.result["answer"]
            return answer
    return None


@routes.post("/handling")
def begin(request: Request, database: Database) -> Response:
    """Work an answer out as a job; the question is in the address."""
    typed = {key: request.query_params.get(key, "").strip() for key in KINDS}
    with reading(database) as session:
        asked_of(session, typed)  # refused before it waits
    number = request.app.state.jobs.start("handling", {"typed": typed})
    return go_to(f"/jobs/{number}")
