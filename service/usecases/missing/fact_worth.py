"""What one more fact about a whip would buy, by predicting with the record as it would then stand.

A fact may turn out in a few ways that are equally likely as far as the record tells (``facts``). For each,
stacks are taken from the record so changed and predicted; the width promised is the mean over them. Where
several facts are wanted before a reading has a known stack they are weighed together.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from plaitlog.models.calibration.prediction import Query
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.stack import Stack, stack_at
from plaitlog.models.whip import Cord, Reading, Whip
from plaitlog.service.usecases.missing.facts import LIKELY, Fact, all_steps, likely_point_mm
from plaitlog.service.usecases.missing.layer_facts import record_facts
from plaitlog.service.usecases.missing.measuring_worth import what_measuring_buys
from plaitlog.service.usecases.missing.usability import EIGHTHS, TaperQuestions, Usability, is_rough, level_of
from plaitlog.service.usecases.missing.worth import Freed, Narrowed, Worth, ranked
from plaitlog.service.usecases.observing import is_inner
from plaitlog.service.usecases.places import placed, thick_end_mm
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.questions import Questions


def what_facts_buy(
    in_force: InForce, whip: Whip, cords: Mapping[str, Cord], usable: Usability
) -> tuple[Worth, ...]:
    """What each fact that a record leaves open would buy, the most first; those that buy nothing left out."""
    if usable.planned:
        return ()
    questions = Questions()
    base = _State.of(whip, cords, questions, in_force, spots_of(whip))
    weighed = [
        _Weighed(facts, [_State.of(each, cords, questions, in_force, base.spots) for each in outcomes])
        for facts in bundles(in_force, whip, usable)
        if (outcomes := turned_out(whip, facts, cords))
    ]
    questions.answer(in_force)
    found = [each.worth(base, questions, usable) for each in weighed]
    return ranked([*found, *what_measuring_buys(in_force, whip, cords, usable)])


def bundles(in_force: InForce, whip: Whip, usable: Usability) -> list[tuple[Fact, ...]]:
    """The facts that some reading wants, together, and each other fact by itself."""
    makers = sorted(name for name in in_force.calibration.makers if name)
    found: dict[tuple[str, ...], tuple[Fact, ...]] = {}
    for facts in [(fact,) for fact in record_facts(whip, makers)] + [use.wants for use in usable.readings]:
        if facts:
            found[tuple(fact.key for fact in facts)] = facts
    return list(found.values())


def turned_out(whip: Whip, facts: Sequence[Fact], cords: Mapping[str, Cord]) -> list[Whip]:
    """The record once the facts are known, in each of a few ways: all of a single fact, a mix of several."""
    if len(facts) == 1:
        return facts[0].likely(whip, cords)
    found = []
    for k in range(LIKELY):
        each = whip
        for number, fact in enumerate(facts):
            likely = fact.likely(each, cords)
            each = likely[(k + 2 * number) % len(likely)]
        found.append(each)
    return found


@dataclass(frozen=True, slots=True)
class Spot:
    """Where the prediction is looked at: at a reading, or at a station of the finished thong."""

    at_mm: float | None
    reading: int | None = None


def spots_of(whip: Whip) -> tuple[Spot, ...]:
    """Every reading, every eighth of the thong, and the middle of every place that is not exactly noted."""
    start, point = thick_end_mm(whip), whip.point_mm
    stations: set[float] = set()
    if start is not None and point is not None:
        stations.update(start + (point - start) * k / EIGHTHS for k in range(EIGHTHS + 1))
    end = likely_point_mm(whip)
    for step in all_steps(whip):
        low, high = step.place.low_mm, min(step.place.high_mm, end)
        if low < high:
            stations.add((low + high) / 2)
    return (*(Spot(None, k) for k in range(len(whip.readings))), *(Spot(at) for at in sorted(stations)))


@dataclass(frozen=True, slots=True)
class _Seen:
    at_mm: float
    stack: Stack
    maker: str | None
    number: int


@dataclass(frozen=True, slots=True)
class _State:
    """One way the record may stand: readings placed, the stack at every spot put to the fit, the taper."""

    readings: tuple[Reading, ...]
    spots: tuple[Spot, ...]
    seen: tuple[_Seen | None, ...]
    taper: TaperQuestions

    @staticmethod
    def of(
        whip: Whip,
        cords: Mapping[str, Cord],
        questions: Questions,
        in_force: InForce,
        spots: tuple[Spot, ...],
    ) -> "_State":
        whip = placed(whip)
        return _State(
            whip.readings,
            spots,
            tuple(_look(whip, spot, cords, questions) for spot in spots),
            TaperQuestions.of(whip, cords, questions, in_force),
        )


def _look(whip: Whip, spot: Spot, cords: Mapping[str, Cord], questions: Questions) -> _Seen | None:
    reading = None if spot.reading is None else whip.readings[spot.reading]
    at_mm = spot.at_mm if reading is None else reading.at_mm
    after = None if reading is None else reading.after_layer
    if at_mm is None:
        return None
    try:
        stack = stack_at(whip, at_mm, cords, after)
    except StackNotKnownError:
        return None
    query = Query(
        stack=stack,
        maker=whip.maker,
        condition=None if reading is None else reading.condition,
        at_mm=at_mm,
        inner=is_inner(whip, after),
    )
    return _Seen(at_mm, stack, whip.maker, questions.ask(query))


@dataclass(frozen=True, slots=True)
class _Weighed:
    """Facts, and the ways the record may stand once they are known."""

    facts: tuple[Fact, ...]
    states: list[_State]

    def worth(self, base: _State, questions: Questions, usable: Usability) -> Worth:
        freed: list[Freed] = []
        sharpened: list[int] = []
        places: list[Narrowed] = []
        middle = self.states[len(self.states) // 2]
        for k, spot in enumerate(base.spots):
            was, now = base.seen[k], [x for state in self.states if (x := state.seen[k]) is not None]
            if len(now) < len(self.states):
                continue
            if was is None or any((x.stack, x.maker) != (was.stack, was.maker) for x in now):
                places.append(narrowed(spot, was, now, questions))
            if spot.reading is None:
                continue
            rough = [is_rough(x.stack) for x in now]
            if was is None:
                reading = middle.readings[spot.reading]
                freed.append(Freed(spot.reading, reading, any(rough), places[-1].after_mm))
            elif is_rough(was.stack) and not any(rough):
                sharpened.append(spot.reading)
        before = usable.taper or "no"
        after = before if usable.taper is None else level_of(middle.taper.stations(questions))
        stations = sum(spot.reading is None for spot in base.spots)
        return Worth(
            facts=self.facts,
            freed=tuple(freed),
            sharpened=tuple(sharpened),
            places=tuple(places),
            taper=(before, after),
            handling=(usable.handling, usable.scores > 0 and after != "no"),
            thong_share=sum(x.reading is None for x in places) / max(stations, 1),
        )


def narrowed(spot: Spot, was: _Seen | None, now: Sequence[_Seen], questions: Questions) -> Narrowed:
    middles = [questions.answers[x.number].diameter_mm for x in now]
    return Narrowed(
        at_mm=now[0].at_mm,
        before_mm=None if was is None else questions.half_mm(was.number),
        after_mm=sum(questions.half_mm(x.number) for x in now) / len(now),
        shift_mm=(max(middles) - min(middles)) / 2,
        reading=spot.reading,
    )
