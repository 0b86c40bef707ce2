"""Long work under way: how far it is, with its end in words; one may leave and come back."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from plaitlog.service.database import reading
from plaitlog.service.jobs import Jobs
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.rendering import go_to, moment, page, part, wants_json
from plaitlog.service.usecases.jobs import Job, latest_jobs, one_job
from plaitlog.service.web_requests import Database, Key
from plaitlog.service.work.kinds import KINDS

routes = APIRouter(include_in_schema=False)
LISTED = 15


@routes.get("/jobs/{key}")
def one(request: Request, database: Database, key: Key) -> Response:
    """One job. Who follows it (``?then=go``) is led to what came of it as soon as it is done."""
    with reading(database) as session:
        job = job_data(one_job(session, key))
        data = {
            "job": job,
            "latest": [job_data(row) for row in latest_jobs(session, limit=LISTED)],
            "banner": banner(request, session),
        }
    address = job["address"]
    if address and request.query_params.get("then") == "go" and not wants_json(request):
        return go_to(address)
    return page(request, "job.html", data)


@routes.get("/jobs/{key}/now")
def now(database: Database, key: Key) -> Response:
    """How far it is, for the script of a page that shows it."""
    with reading(database) as session:
        return part("_job_now.html", {"job": job_data(one_job(session, key))})


@routes.post("/jobs/{key}/cancel")
def cancel(request: Request, key: Key) -> Response:
    jobs: Jobs = request.app.state.jobs
    jobs.cancel(key)
    return go_to(f"/jobs/{key}")


def job_data(job: Job) -> dict[str, Any]:
    """A job as data of a page, for ``_job.html`` as well."""
    return {
        "number": job.number,
        "kind": job.kind,
        "name": KINDS[job.kind].words if job.kind in KINDS else job.kind,
        "page": KINDS[job.kind].page if job.kind in KINDS else "/",
        "state": job.state,
        "live": job.live,
        "doing": job.doing,
        "percent": int(100 * job.done_share),
        "address": (job.result or {}).get("address"),
        "asked_at": moment(job.created_at),
    }
