"""Handling: which taper parameters go with good ratings."""

from plaitlog.service.api.answers import Answer
from plaitlog.service.api.bodies import JsonObject
from plaitlog.service.api.documented import BODY, answers, body, router
from plaitlog.service.api.parameters import Database
from plaitlog.service.api.shapes import shape_from
from plaitlog.service.database import reading
from plaitlog.service.schemas.handling import HandlingOut
from plaitlog.service.schemas.wanted import HandlingIn
from plaitlog.service.usecases.handling.answer import Question, handling, qualities_meant
from plaitlog.service.usecases.handling.answer_json import to_json
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import whip

routes = router("handling")
MM = ShownUnits("mm", "mm")


@routes.post(
    "",
    summary="What goes with good ratings",
    responses=answers(HandlingOut, "The answer, in words and in figures.", 404, 409, *BODY),
    openapi_extra=body(
        "HandlingIn",
        volley={"qualities": ["volley"], "type": "stock whip"},
        everything={"qualities": ["volley", "roll-out"], "everything": True},
    ),
)
def ask(database: Database, typed: JsonObject) -> Answer:
    """Which taper parameters go with good ratings, and what may be claimed of it; nothing is stored.

    One quality against six headline parameters is what few whips can answer; more costs in false discoveries.
    """
    asked = shape_from(HandlingIn, typed)
    qualities = qualities_meant(asked.qualities)
    with reading(database) as session:
        question = Question(
            qualities=qualities,
            type=asked.type,
            everything=asked.everything,
            like=None if asked.like is None else whip(session, asked.like),
            candidates=tuple(whip(session, label) for label in asked.candidates),
        )
        found = handling(session, question)
    return Answer(to_json(found, MM))
