"""Plan again what lies ahead of a whip on the bench: from how far it is, to layers that are kept with it."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy.orm import Session

from plaitlog.models.errors import (
    Finding,
    InputError,
    NotFoundError,
    PlaitlogError,
    StaleEditError,
    UnitError,
)
from plaitlog.models.units import parse_length
from plaitlog.models.whip import ON_THE_BENCH, Whip
from plaitlog.service.database import reading, write
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.forms import Form, Posted
from plaitlog.service.pages.planning.cards import card
from plaitlog.service.pages.planning.form import place_unit
from plaitlog.service.pages.refusals import told as told_finding
from plaitlog.service.pages.rendering import go_to, page, path_of
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.changes.editing_whips import edit_whip
from plaitlog.service.usecases.drafts import new_token, remove
from plaitlog.service.usecases.listing import latest_change
from plaitlog.service.usecases.planning.boards import PlannedAgain, digest_of, keep_again, planned_again
from plaitlog.service.usecases.planning.plan_words import on_the_tape_of
from plaitlog.service.usecases.planning.replanned_words import changed_layers
from plaitlog.service.usecases.planning.replanning import Ahead, Standing, ahead, laid_ahead, plan_ahead
from plaitlog.service.usecases.planning.size_of_question import takes_long
from plaitlog.service.usecases.planning.spec_file import LIMIT_BYTES, spec_data
from plaitlog.service.usecases.planning.starting import start_planned
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import whip as recorded_whip
from plaitlog.service.web_requests import Database, Name

routes = APIRouter(include_in_schema=False)
UNBEGUN = (None, "planned")


def ahead_page(
    request: Request,
    session: Session,
    label: str,
    typed: dict[str, str] | None = None,
    refused: Finding | None = None,
) -> dict[str, Any]:
    """How far the whip is, as its readings say or as it was typed, and what keeps it from being planned.

    Raises NotFoundError where there is no such whip.
    """
    shown = preferences().shown
    made = recorded_whip(session, label)
    found: Ahead | None = None
    lacks: Finding | None = refused
    try:
        found = ahead(session, label)
    except PlaitlogError as error:
        # That nothing is measured yet is no mistake: the page asks how far it is.
        lacks = lacks or (None if error.finding.code == "standing-unknown" else error.finding)
    standing = None if found is None else found.standing
    proposed = {
        "layer": "" if standing is None else str(standing.slot),
        "to": "" if standing is None else shown.length(standing.to_mm),
    }
    return {
        **_about(made, shown),
        "banner": banner(request, session),
        "token": "",
        "typed": proposed if typed is None else typed,
        "refused": None if lacks is None else told_finding(lacks),
        "readings": len(made.readings),
        "stands": None if standing is None else _stands(made, standing, shown),
        "again": None,
    }


def kept_again_page(
    request: Request, session: Session, token: str, kept: PlannedAgain, refused: Finding | None = None
) -> dict[str, Any]:
    """What was planned again and is not recorded yet, beside what the record has."""
    known = preferences().shown
    found = ahead(session, kept.label, kept.spec, kept.standing)
    again = laid_ahead(found, kept.layers)
    shown = on_the_tape_of(found.bench, known)
    old = _old(found, kept)
    refused = refused or old
    finished = [
        (one.at_mm, one.size_mm)
        for one in found.made.readings
        if one.at_mm is not None and one.after_layer in (None, len(found.made.layers))
    ]
    return {
        **_about(found.made, shown),
        "banner": None,
        "token": token,
        "typed": {"layer": str(kept.standing.slot), "to": shown.length(kept.standing.to_mm)},
        "refused": None if refused is None else told_finding(refused),
        "readings": len(again.readings),
        "stands": _stands(found.made, kept.standing, shown),
        "again": {
            **card(again.told, shown, finished),
            "point": again.point_in(shown),
            "changed": changed_layers(found.made.layers, again.plan.whip.layers, shown),
            "current": old is None,
        },
    }


def _old(found: Ahead, kept: PlannedAgain) -> Finding | None:
    """Whether the whip was changed, or measured, since it was planned again."""
    if (found.version, digest_of(found.readings)) == (kept.version, kept.seen):
        return None
    text = f"{kept.label} was changed or measured since this was planned"
    return Finding("stale", text, "plan it once more from what is recorded now")


def _about(made: Whip, shown: ShownUnits) -> dict[str, Any]:
    outermost = len(made.layers)
    return {
        "label": made.label,
        "status": made.status or "",
        "unbegun": made.status in UNBEGUN,
        "finished": made.status not in (*UNBEGUN, ON_THE_BENCH),
        "layers": [
            [str(slot), f"{slot} {layer.role}{' (outermost)' if slot == outermost else ''}"]
            for slot, layer in enumerate(made.layers, start=1)
        ],
        "lengths": place_unit(shown),
    }


def _stands(made: Whip, standing: Standing, shown: ShownUnits) -> str:
    role = made.layers[standing.slot - 1].role if standing.slot <= len(made.layers) else "layer"
    return f"the {role} (layer {standing.slot}) is plaited to {shown.length(standing.to_mm)}"


@routes.post("/replan/{label:name}")
def again(request: Request, database: Database, label: Name, form: Posted) -> Response:
    """Plan again from how far the whip is; or put a whip on the bench that was only planned so far."""
    if form.text("do") == "start":
        return go_to(f"{path_of('whips', label)}?change={write(database, lambda s: _begun(s, label))}")
    token = new_token()
    try:
        standing, spec = _standing(form), _spec(form)
        with reading(database) as session:
            found = ahead(session, label, spec, standing)
        if takes_long(found.asked):
            wanted = {
                "token": token,
                "replan": label,
                "layer": None if standing is None else standing.slot,
                "to_mm": None if standing is None else standing.to_mm,
                "spec": spec,
            }
            return go_to(f"/jobs/{request.app.state.jobs.start('plan', wanted)}")
        planned = plan_ahead(found)
    except NotFoundError:
        raise
    except PlaitlogError as error:
        with reading(database) as session:
            data = ahead_page(request, session, label, form.texts(), error.finding)
        return page(request, "replan.html", data, 422)
    write(database, lambda session: keep_again(session, token, planned, spec))
    return go_to(f"/plan/{token}")


def _begun(session: Session, label: str) -> int | None:
    start_planned(session, label)
    return latest_change(session)


def _standing(form: Form) -> Standing | None:
    """As typed; None where both are empty, so that the readings tell."""
    layer, to = form.text("layer"), form.text("to")
    if not layer and not to:
        return None
    if not layer.isdecimal() or len(layer) > 3 or not to:
        text = "layer and place say together how far the whip is"
        raise InputError(Finding("question-unclear", text, "give both or none"))
    try:
        return Standing(int(layer), parse_length(to, unit=place_unit(preferences().shown)))
    except UnitError as error:
        raise InputError(error.finding.at("plaited to")) from None


def _spec(form: Form) -> dict[str, Any] | None:
    files = form.files("file")
    if not files:
        return None
    data = spec_data(files[0].stream.read(LIMIT_BYTES + 1), files[0].name or "the file")
    found: dict[str, Any] = data.get("spec", data)
    return found


@routes.post("/plan/{token}/keep")
def keep(request: Request, database: Database, token: str) -> Response:
    """Record the new layers with the whip; a record that was changed meanwhile is left as it is."""
    with reading(database) as session:
        kept = planned_again(session, token)
    if kept is None:
        raise NotFoundError(Finding("draft-not-found", "this was kept already, or put away", "see the whip"))

    def recorded(session: Session) -> int | None:
        old = _old(ahead(session, kept.label, kept.spec, kept.standing), kept)
        if old is not None:
            raise StaleEditError(old, kept.version, {})
        found = edit_whip(session, kept.label, {"layers": list(kept.layers)}, version=kept.version)
        remove(session, token)
        return found.number

    try:
        change = write(database, recorded)
    except StaleEditError as error:
        with reading(database) as session:
            data = kept_again_page(request, session, token, kept, error.finding)
        return page(request, "replan.html", data, 409)
    said = "" if change is None else f"?change={change}"
    return go_to(f"{path_of('sheets/whips', kept.label)}{said}")
