"""What a record lacks: facts to look up, and things to measure, whatever they may be worth."""

from plaitlog.models.whip import NOT_TRIED, Whip
from plaitlog.service.usecases.missing.facts import Fact, MadeBy, Measurement
from plaitlog.service.usecases.missing.layer_facts import DropPlace, FateOf, record_facts
from plaitlog.service.usecases.missing.wanting import Layers

READINGS = Measurement("readings", "readings")
RATED = Measurement("rating", "a rating session with a score")
WEIGHT = Measurement("weight", "the weight")
TURN = Measurement("turn_length", "a turn length in the middle")


def lacking(whip: Whip) -> list[Fact]:
    """Everything that is not noted of a whip; places noted roughly, and fates, left out.

    A whip that is planned, or on the bench, lacks nothing that only a finished one has.
    """
    found: list[Fact] = [] if whip.layers else [Layers()]
    found += [x for x in record_facts(whip) if not isinstance(x, DropPlace | FateOf)]
    if whip.maker is None:
        found.append(MadeBy(()))
    if whip.status == "planned":
        return found
    if not whip.readings:
        found.append(READINGS)
    if whip.type == "test plait" or whip.status == "on the bench":
        return found
    if not whip.weights:
        found.append(WEIGHT)
    if not scored(whip):
        found.append(RATED)
    return found


def scored(whip: Whip) -> int:
    """Rating sessions with at least one score, be it only better, same or worse than another whip."""
    return sum(any(score != NOT_TRIED for score in session.scores.values()) for session in whip.ratings)
