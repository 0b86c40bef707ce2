"""Tapers: the shape of a whip's thong in numbers."""

from plaitlog.service.api.answers import Answer
from plaitlog.service.api.documented import answers, router
from plaitlog.service.api.parameters import Database, Name
from plaitlog.service.database import reading
from plaitlog.service.schemas.tapers import TaperOut
from plaitlog.service.usecases.handling.parameters import parameters_of
from plaitlog.service.usecases.handling.taper_words import to_json
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import cords_by_name, whip

routes = router("tapers")
MM = ShownUnits("mm", "mm")


@routes.get(
    "/{label:name}",
    summary="Taper of a whip",
    responses=answers(TaperOut, "Its taper parameters, each with its uncertainty.", 404),
)
def one(database: Database, label: Name) -> Answer:
    """The taper parameters of a whip by label, each with its interval and how it is known.

    From its readings where there are enough, else predicted from its stack by the fit in force.
    """
    with reading(database) as session:
        found = whip(session, label)
        cords = cords_by_name(session)
        in_force = fit_in_force(session)
    return Answer(to_json(parameters_of(in_force, found, cords), MM))
