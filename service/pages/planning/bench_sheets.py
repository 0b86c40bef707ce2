"""Bench sheets: of a plan, of a whip on the bench, of what lies ahead of one; as pages, PDF and files."""

import json
from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, NotFoundError, PlanError
from plaitlog.service.database import reading
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.rendering import page, path_of
from plaitlog.service.preferences import preferences
from plaitlog.service.reports.bench_sheet import BenchSheet, Paper, pages, to_html, to_pdf
from plaitlog.service.reports.whip_drawing import to_svg
from plaitlog.service.usecases.pictures.drawing import drawn
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.planning.boards import board, planned_again
from plaitlog.service.usecases.planning.laid import laid_plan
from plaitlog.service.usecases.planning.plan_json import planned_layer, told_json
from plaitlog.service.usecases.planning.plan_words import on_the_tape_of
from plaitlog.service.usecases.planning.planning import Told
from plaitlog.service.usecases.planning.replanning import Replanned, ahead, laid_ahead
from plaitlog.service.usecases.planning.sheet import bench_sheet
from plaitlog.service.usecases.to_layer_records import layer_record
from plaitlog.service.usecases.workshop import whip as recorded_whip
from plaitlog.service.web_requests import Database, Key, Name

routes = APIRouter(include_in_schema=False)
File = Literal["pdf", "html", "drawing", "json"]
MEDIA: Final = {
    "pdf": ("sheet.pdf", "application/pdf"),
    "html": ("sheet.html", "text/html"),
    "drawing": ("drawing.svg", "image/svg+xml"),
    "json": ("plan.json", "application/json"),
}
PaperAsked = Annotated[Paper, Query()]
FileAsked = Annotated[File | None, Query()]


@routes.get("/sheets/plans/{token}/{number}")
def of_plan(
    request: Request,
    database: Database,
    token: str,
    number: Key,
    paper: PaperAsked = "a4",
    file: FileAsked = None,
) -> Response:
    """The sheet of a plan that is not begun yet."""
    with reading(database) as session:
        found = board(session, token)
        if found is None:
            raise NotFoundError(Finding("draft-not-found", "there is no such plan", "begin a new one"))
        plan = found.plan(number)
        told = laid_plan(session, {"spec": plan.spec, "layers": plan.layers})
    about = {"back": f"/plan/{token}#plan-{number}", "back_words": "The plan", "whip": None, "banner": None}
    return _answer(request, told, plan.spec, about, paper, file)


@routes.get("/sheets/again/{token}")
def of_again(
    request: Request, database: Database, token: str, paper: PaperAsked = "a4", file: FileAsked = None
) -> Response:
    """The sheet of what lies ahead, planned again and not recorded yet."""
    with reading(database) as session:
        kept = planned_again(session, token)
        if kept is None:
            raise NotFoundError(Finding("draft-not-found", "there is no such plan", "see the whip"))
        again = laid_ahead(ahead(session, kept.label, kept.spec, kept.standing), kept.layers)
    about = {"back": f"/plan/{token}", "back_words": "What was planned again", "whip": None, "banner": None}
    return _answer(request, again.told, again.spec, about, paper, file, again)


@routes.get("/sheets/whips/{label:name}")
def of_whip(
    request: Request,
    database: Database,
    label: Name,
    paper: PaperAsked = "a4",
    file: FileAsked = None,
    whole: Annotated[bool, Query()] = False,
) -> Response:
    """The sheet of a whip by the plan kept with it: what lies ahead once it was measured, or the whole."""
    with reading(database) as session:
        told, again, spec = _of_recorded(session, label, whole)
        about = {
            "back": path_of("whips", label),
            "back_words": "The whip",
            "whip": label,
            "banner": banner(request, session),
        }
    return _answer(request, told, spec, about, paper, file, again)


def _of_recorded(session: Session, label: str, whole: bool) -> tuple[Told, Replanned | None, Any]:
    made = placed(recorded_whip(session, label))
    spec = None if made.plan is None else made.plan.get("spec")
    if spec is None:
        text = f"no plan is kept with {label} that says what was wanted"
        raise PlanError(Finding("no-plan-kept", text, "begin a whip from a plan, then its sheet is here"))
    if not whole:
        try:
            found = ahead(session, label)
        except PlanError:
            pass  # nothing is measured yet, or nothing is left to be plaited
        else:
            again = laid_ahead(found, [layer_record(layer) for layer in made.layers])
            return again.told, again, spec
    layers = [planned_layer(layer) for layer in made.layers]
    return laid_plan(session, {"spec": spec, "layers": layers}, label), None, spec


def _answer(
    request: Request,
    told: Told,
    spec: Any,
    about: dict[str, Any],
    paper: Paper,
    file: File | None,
    again: Replanned | None = None,
) -> Response:
    shown = on_the_tape_of(told.bench, preferences().shown)
    sheet = bench_sheet(
        told.bench.in_force,
        told.plan,
        shown,
        transition_mm=told.bench.order.transition_mm,
        readings=() if again is None else again.readings,
        standing=None if again is None else again.standing,
        point="" if again is None else again.point_in(shown),
    )
    if file == "drawing":
        drawing = drawn(told.bench.in_force, told.plan.whip, told.bench.cords, shown)
        return _sent(to_svg(drawing).encode(), file)
    if file == "json":
        plan = {**told_json(told), "spec": spec}
        return _sent(json.dumps(plan, ensure_ascii=False, allow_nan=False, indent=1).encode(), file)
    printed = pages(sheet, paper)
    if file == "pdf":
        return _sent(to_pdf(printed), file)
    if file == "html":
        return _sent(to_html(sheet, printed).encode(), file)
    return page(request, "sheet.html", _data(request, sheet, printed, paper, about, again))


def _data(
    request: Request,
    sheet: BenchSheet,
    printed: list[str],
    paper: Paper,
    about: dict[str, Any],
    again: Replanned | None,
) -> dict[str, Any]:
    return {
        **about,
        "label": sheet.label,
        "about": sheet.about,
        "paper": paper,
        "pages": printed,
        "ahead": again is not None,
        "address": request.url.path,
        "files": [
            ["pdf", "PDF"],
            ["html", "One page for another program"],
            ["drawing", "Drawing"],
            ["json", "plan.json"],
        ],
    }


def _sent(content: bytes, file: File) -> Response:
    name, media = MEDIA[file]
    # The PDF is looked at and printed; the others are kept, and never shown as pages of this server.
    how = "inline" if file == "pdf" else "attachment"
    headers = {"Content-Disposition": f'{how}; filename="{name}"', "Cache-Control": "no-cache"}
    return Response(content, media_type=media, headers=headers)
