"""Predictions: how thick stacks of layers come out."""

import io
import json

from plaitlog.service.api.answers import Answer
from plaitlog.service.api.bodies import JsonObject
from plaitlog.service.api.documented import BODY, answers, body, router
from plaitlog.service.api.parameters import Database, Limits
from plaitlog.service.api.shapes import shape_from
from plaitlog.service.database import reading
from plaitlog.service.schemas.calculated import PredictionsOut
from plaitlog.service.schemas.wanted import QuestionsIn
from plaitlog.service.usecases.predicting import CAUTION, fit_in_force
from plaitlog.service.usecases.predicting_lines import answer_lines
from plaitlog.service.usecases.workshop import cords_by_name

routes = router("predictions")
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
