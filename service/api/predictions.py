"""Predictions: how thick stacks of layers come out."""

import io
import json

from plaitlog.service.api.answers import Answer, remarks
from plaitlog.service.api.bodies import JsonObject
from plaitlog.service.api.documented import BODY, answers, body, router
from plaitlog.service.api.parameters import Database, Limits
from plaitlog.service.api.shapes import shape_from
from plaitlog.service.database import reading
from plaitlog.service.schemas.calculated import LikeOut, PredictionsOut
from plaitlog.service.schemas.wanted import LikeIn, QuestionsIn
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.predicting import CAUTION, fit_in_force
from plaitlog.service.usecases.predicting_lines import answer_lines
from plaitlog.service.usecases.predicting_stacks import like_findings, like_json, like_whip
from plaitlog.service.usecases.workshop import cords_by_name, whip

routes = router("predictions")
LIKE = {"like": "2026-014", "swap": {"Ridge 4 mm": "Fell 3 mm"}}
QUESTION = {
    "id": "a1",
    "maker": "Orrin",
    "condition": "rolled",
    "layers": [
        {"role": "core", "cord": "Ridge 4 mm", "strands": 6},
        {"role": "overlay", "cord": "Ridge 4 mm", "strands": 16, "pattern": "u2o2u2o2"},
    ],
}


@routes.post(
    "",
    summary="Predict finished diameters",
    responses=answers(PredictionsOut, "The answers, in mm.", *BODY),
    openapi_extra=body("QuestionsIn", stack={"questions": [QUESTION]}),
)
def predict(database: Database, limits: Limits, typed: JsonObject) -> Answer:
    """Diameters with intervals, from the fit in force; nothing is stored.

    A question that cannot be answered has an error in the place of its answer, and the others are answered.
    """
    wanted = shape_from(QuestionsIn, typed)
    # Each question is read as a line of a file is, so that both give the same answers.
    lines = io.BytesIO(b"\n".join(json.dumps(question).encode() for question in wanted.questions))
    with reading(database) as session:
        in_force = fit_in_force(session)
        cords = cords_by_name(session)
    batches = answer_lines(
        in_force, cords, lines, limit_bytes=limits.body_limit_bytes, interval=wanted.interval
    )
    return Answer(
        {
            "fit": in_force.number,
            "rests_on": in_force.rests_on,
            "caution": CAUTION,
            "answers": [answer for batch in batches for answer in batch],
        }
    )


@routes.post(
    "/like",
    summary="Predict a known whip in other cords",
    responses=answers(LikeOut, "Diameters, weight, balance and cord use.", 404, 409, *BODY),
    openapi_extra=body("LikeIn", other_cord=LIKE),
)
def predict_like(database: Database, typed: JsonObject) -> Answer:
    """A recorded whip station by station, as it was and with other cords in the place of its own.

    Then what it weighs, where it balances and what cord it takes; nothing is stored.
    """
    asked = shape_from(LikeIn, typed)
    with reading(database) as session:
        in_force = fit_in_force(session)
        cords = cords_by_name(session)
        found = placed(whip(session, asked.like))
    told = like_whip(
        in_force,
        found,
        cords,
        asked.swap,
        maker=asked.maker,
        condition=asked.condition,
        interval=asked.interval,
    )
    return Answer(
        {
            **like_json(told),
            "findings": remarks(like_findings(told)),
            "rests_on": in_force.rests_on,
            "caution": CAUTION,
        }
    )
