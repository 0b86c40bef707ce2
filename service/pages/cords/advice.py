"""Advice: which short test plait of a cord teaches most about the stacks that are wanted."""

from collections.abc import Mapping
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy.orm import Session

from plaitlog.models import units
from plaitlog.models.errors import Finding, InputError, NotFoundError, StackNotKnownError
from plaitlog.models.whip import Cord
from plaitlog.service import errors
from plaitlog.service.database import reading, write
from plaitlog.service.pages.cords.data import resting
from plaitlog.service.pages.forms import Posted
from plaitlog.service.pages.refusals import told
from plaitlog.service.pages.rendering import go_to, page
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases import drafts
from plaitlog.service.usecases.cords.advising import Advice, Proposal, advise
from plaitlog.service.usecases.cords.short_plaits import RATE, plait_of
from plaitlog.service.usecases.listing import one_cord
from plaitlog.service.usecases.predicting import InForce, fit_in_force
from plaitlog.service.usecases.recording.test_plait import plait_texts
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.wanted_stacks import Wanted, maker_of_most, wanted_stacks
from plaitlog.service.usecases.workshop import cords_by_name, whip
from plaitlog.service.web_requests import Database, Name

routes = APIRouter(include_in_schema=False)
ASKED: Final = ("size", "stack", "like", "instead_of")


@routes.get("/advice/{name:name}")
def advice(request: Request, database: Database, name: Name) -> Response:
    asked = {key: request.query_params.get(key, "").strip() for key in ASKED}
    with reading(database) as session:
        one_cord(session, name)
        in_force = fit_in_force(session)
        cords = cords_by_name(session)
        wrong: dict[str, dict[str, str]] = {}
        status = 200
        try:
            wanted = _wanted(session, in_force, cords, cords[name], asked)
        except (InputError, StackNotKnownError) as error:
            wanted, wrong, status = None, _wrong(error, asked), _status(error)
        found = advise(in_force, cords[name], wanted)
        data = {
            "name": name,
            "asked": asked,
            "wrong": wrong,
            "cords": [[one, one] for one in cords if one != name],
            **_advised(found, preferences().shown),
            **resting(in_force),
        }
    return page(request, "advice.html", data, status)


@routes.post("/advice/{name:name}")
def record(database: Database, name: Name, form: Posted) -> Response:
    """Begin the record of a test plait that was advised: a draft with everything but its readings."""

    def begin(session: Session) -> str:
        one_cord(session, name)
        plait = plait_of(cords_by_name(session)[name], form.text("plait"))
        maker = preferences().maker or maker_of_most(fit_in_force(session).calibration)
        token = drafts.new_token()
        drafts.keep(session, token, "record", plait.label, plait_texts(plait, maker))
        return token

    return go_to(f"/record/{write(database, begin)}")


def _wanted(
    session: Session, in_force: InForce, cords: Mapping[str, Cord], cord: Cord, asked: Mapping[str, str]
) -> Wanted | None:
    if not any(asked.values()):
        return None
    shown = preferences().shown
    size = asked["size"]
    return wanted_stacks(
        in_force,
        cords,
        cord,
        size_mm=units.parse_diameter(size, unit=shown.diameters) if size else None,
        stacks=[line.strip() for line in asked["stack"].splitlines() if line.strip()],
        like=whip(session, asked["like"]) if asked["like"] else None,
        swaps={asked["instead_of"]: cord.name} if asked["like"] and asked["instead_of"] else None,
    )


def _wrong(error: InputError | StackNotKnownError, asked: Mapping[str, str]) -> dict[str, dict[str, str]]:
    """The finding beside the field that asked; of several, it concerns all of them."""
    given = [key for key in ("size", "stack", "like") if asked[key]]
    finding = error.finding
    if finding.code == "no-such-stack":
        finding = Finding(finding.code, finding.text, finding.remedy.replace("with --stack", "below"))
    return {given[0] if len(given) == 1 else "": told(finding)}


def _status(error: InputError | StackNotKnownError) -> int:
    return 422 if isinstance(error, NotFoundError) else errors.status(error)


def _advised(found: Advice, shown: ShownUnits) -> dict[str, Any]:
    best = found.best
    return {
        "wanted": found.wanted.words,
        "half": shown.plus_minus(found.half_mm),
        "least": shown.plus_minus(found.least_mm),
        "sentences": found.sentences(shown),
        "best": None if best is None else _proposal(best, shown),
        "proposals": [_proposal(one, shown) for one in found.proposals],
        "rate": RATE,
    }


def _proposal(one: Proposal, shown: ShownUnits) -> dict[str, Any]:
    plait = one.plait
    (layer,) = plait.stack.layers
    return {
        "plait": plait.key,
        "strands": plait.strands,
        "over": shown.diameter(plait.foundation_mm),
        "length": shown.length(plait.length_mm),
        "pattern": layer.pattern or "",
        "cut": shown.length(plait.cut_mm),
        "read_at": [shown.length(at_mm) for at_mm in plait.read_at_mm],
        "minutes": round(plait.minutes),
        "half": shown.plus_minus(one.worth.half_mm),
        "percent": round(100 * one.worth.narrower),
    }
