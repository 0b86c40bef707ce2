"""From a plan to the bench: a whip is begun by it, and what lies ahead is planned again."""

from typing import Final

from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError, UnitError
from plaitlog.models.units import parse_length
from plaitlog.service.api.answers import Answer
from plaitlog.service.api.bodies import JsonObject
from plaitlog.service.api.documented import BODY, LOCATION, answers, body, router
from plaitlog.service.api.parameters import Database, IdempotencyKey
from plaitlog.service.api.plans import MOST_WORK, STOCK_WHIP
from plaitlog.service.api.records import address, stored_json
from plaitlog.service.api.shapes import shape_from
from plaitlog.service.database import reading, write
from plaitlog.service.schemas.answers import WhipOut
from plaitlog.service.schemas.plan_answer import ReplanOut
from plaitlog.service.schemas.wanted import ReplanIn, StartIn
from plaitlog.service.usecases.listing import Stored, latest_change, one_whip
from plaitlog.service.usecases.planning.plan_json import told_json
from plaitlog.service.usecases.planning.replanning import Standing, record_replanned, replan
from plaitlog.service.usecases.planning.starting import is_started, start_from_plan, start_planned

routes = router("bench")
FROM_A_PLACE: Final = {"whip": "2026-014", "spec": STOCK_WHIP, "layer": 2, "to": "40 in", "record": True}


@routes.post(
    "/replan",
    summary="Plan again what lies ahead",
    responses=answers(ReplanOut, "The plan from where the bench stands, in mm and g.", 404, 409, *BODY),
    openapi_extra=body("ReplanIn", by_readings={"whip": "2026-014"}, from_a_place=FROM_A_PLACE),
)
def plan_again(database: Database, typed: JsonObject) -> Answer:
    """Plan again what is still ahead of a whip on the bench, by what was measured of it.

    Its recorded layers are those of the plan; drops behind the bench and layers that are done stay. With
    `record` the new layers are recorded; a record that was changed meanwhile is left as it is.
    """
    wanted = shape_from(ReplanIn, typed)
    standing = _standing(wanted)
    with reading(database) as session:
        again = replan(session, wanted.whip, wanted.spec, standing, most_work=MOST_WORK)
    edited = write(database, lambda session: record_replanned(session, again)) if wanted.record else None
    return Answer(
        {
            **told_json(again.told),
            "point": again.point,
            "readings": len(again.readings),
            "on_bench": again.standing.slot,
            "plaited_to_mm": again.standing.to_mm,
            "change": None if edited is None else edited.number,
        }
    )


@routes.post(
    "/start",
    summary="Put a whip on the bench",
    status_code=201,
    responses=answers(WhipOut, "The whip, on the bench.", 404, 409, *BODY, status=201, headers=LOCATION),
    openapi_extra=body("StartIn", planned={"whip": "2026-014"}),
)
def start(database: Database, typed: JsonObject, idempotency_key: IdempotencyKey = None) -> Answer:
    """Record the whip of a plan under a new label, with the layers of the plan; or begin a planned whip.

    What is expected of it is kept with it.
    """
    wanted = shape_from(StartIn, typed)

    def started(session: Session) -> tuple[Stored, int | None]:
        if idempotency_key is not None and is_started(session, wanted.whip, wanted.plan):
            stored = one_whip(session, wanted.whip)
            return stored, stored.version or None
        if wanted.plan is None:
            start_planned(session, wanted.whip)
        else:
            start_from_plan(session, wanted.whip, wanted.plan)
        return one_whip(session, wanted.whip), latest_change(session)

    stored, number = write(database, started)
    return Answer(stored_json(stored, change=number), 201, headers={"Location": address("whip", stored)})


def _standing(wanted: ReplanIn) -> Standing | None:
    to_mm = wanted.to_mm
    if wanted.to is not None:
        if to_mm is not None:
            raise InputError(Finding("disagree", "the place is given twice", "leave to_mm or to out", "to"))
        try:
            to_mm = parse_length(wanted.to)
        except UnitError as error:
            raise InputError(error.finding.at("to")) from None
    if (wanted.layer is None) != (to_mm is None):
        text = "layer and place say together how far the whip is"
        raise InputError(Finding("question-unclear", text, "give both or none", "layer"))
    return None if wanted.layer is None or to_mm is None else Standing(wanted.layer, to_mm)
