"""Advice: which test plait or measurement of a cord would narrow predictions most."""

from plaitlog.service.api.answers import Answer
from plaitlog.service.api.bodies import JsonObject
from plaitlog.service.api.documented import BODY, answers, body, router
from plaitlog.service.api.parameters import Database
from plaitlog.service.api.shapes import shape_from
from plaitlog.service.database import reading
from plaitlog.service.schemas.fits_over_time import AdviceOut
from plaitlog.service.schemas.wanted import AdviceIn
from plaitlog.service.usecases.cords.advising import advise
from plaitlog.service.usecases.names import cord_meant
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.wanted_stacks import wanted_stacks
from plaitlog.service.usecases.workshop import cords_by_name, whip

routes = router("advice")


@routes.post(
    "",
    summary="Advise a test plait",
    responses=answers(AdviceOut, "What to plait and to measure, and what it brings.", 404, 409, *BODY),
    openapi_extra=body(
        "AdviceIn",
        typical={"cord": "Ridge 4 mm"},
        stack={"cord": "Ridge 4 mm", "stacks": ["core 6; overlay 16"]},
    ),
)
def ask(database: Database, typed: JsonObject) -> Answer:
    """Which test plait or measurement of a cord narrows the interval of the wanted stacks most.

    It rests on the fit in force, and nothing is stored.
    """
    asked = shape_from(AdviceIn, typed)
    with reading(database) as session:
        in_force = fit_in_force(session)
        cords = cords_by_name(session)
        cord = cord_meant(asked.cord, cords)
        wanted = wanted_stacks(
            in_force,
            cords,
            cord,
            size_mm=asked.for_mm,
            stacks=asked.stacks,
            letters=asked.letters,
            like=None if asked.like is None else whip(session, asked.like),
            swaps=asked.swap,
        )
    return Answer(advise(in_force, cord, wanted).to_json(ShownUnits("mm", "mm")))
