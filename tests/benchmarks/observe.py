"""Whips of a simulated workshop as observations and queries of the diameter model."""

from collections.abc import Sequence

from plaitlog.models.calibration.observations import Observation, Query
from plaitlog.models.stack import stack_at
from plaitlog.models.whip import Reading
from tests.benchmarks.workshops.workshop import MadeWhip, Workshop


def observed(workshop: Workshop, made: Sequence[MadeWhip]) -> list[Observation]:
    """Every reading of these whips on the stack that was noted."""
    return [observation(workshop, whip, reading) for whip in made for reading in whip.noted.readings]


def observation(workshop: Workshop, whip: MadeWhip, reading: Reading) -> Observation:
    assert reading.at_mm is not None
    return Observation(
        stack=stack_at(whip.noted, reading.at_mm, workshop.catalogue, reading.after_layer),
        diameter_mm=reading.size_mm,
        whip=whip.noted.label,
        maker=whip.noted.maker,
        at_mm=reading.at_mm,
        method=reading.method,
        condition=reading.condition,
        inner=reading.after_layer is not None,
    )


def asked(observation: Observation, readings: tuple[Observation, ...] = ()) -> Query:
    """The question whose answer is this observation."""
    return Query(
        stack=observation.stack,
        maker=observation.maker,
        condition=observation.condition,
        at_mm=observation.at_mm,
        readings=readings,
        inner=observation.inner,
    )
