"""What each row of the accuracy table asks: train on recorded whips, predict readings nobody has seen.

A trial yields one record per held-out reading; ``accuracy`` turns records into the table.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.observations import Observation, Prediction, Query
from plaitlog.models.calibration.rivals import Rival, all_rivals
from plaitlog.models.stack import PLAITED
from tests.benchmarks.observe import asked, observation, observed
from tests.benchmarks.workshops.laying import Mechanics
from tests.benchmarks.workshops.workshop import MadeWhip, Workshop, open_workshop

NEW_WHIP = "new whip, known cords"
NEW_CORD = "cord never recorded"
MEASURED = "cord never recorded, measured"
AFTER_ONE = "once one whip with the cord"
REST = "rest of a whip, 5 of 13 measured"
BELLY = "whole belly measured"
WRONG = "2 % wrong readings, new whip"
ROWS = (NEW_WHIP, NEW_CORD, MEASURED, AFTER_ONE, REST, BELLY, WRONG)
TAKEN = 5


@dataclass(frozen=True, slots=True)
class Setting:
    """One simulated workshop and how many of its whips are recorded."""

    mechanics: Mechanics
    seed: int
    whips: int
    workshop: Workshop
    params: dict[str, Any]
    test_whips: int = 40
    whips_per_cord: int = 6


@dataclass(frozen=True, slots=True)
class Asked:
    """One held-out reading: the question, the answer, and log of the expected diameter for the floor."""

    observation: Observation
    expected_log: float
    group: str
    readings: tuple[Observation, ...] = ()

    @property
    def query(self) -> Query:
        return asked(self.observation, self.readings)


@dataclass(frozen=True, slots=True)
class Learnt:
    """Model and rivals, fitted on the same observations."""

    model: DiameterModel
    rivals: tuple[Rival, ...]


def learn(observations: Sequence[Observation], params: dict[str, Any], with_rivals: bool = True) -> Learnt:
    model = DiameterModel(**params).fit(observations)
    rivals = tuple(rival.fit(observations) for rival in all_rivals()) if with_rivals else ()
    return Learnt(model, rivals)


def trial(row: str, setting: Setting, learnt: Learnt) -> Iterator[dict[str, Any]]:
    """Records of one row of the table. ``learnt`` is what the setting's plain whips teach."""
    yield from _TRIALS[row](setting, learnt)


def _new_whip(setting: Setting, learnt: Learnt) -> Iterator[dict[str, Any]]:
    made = _of_recorded_cords(setting)
    yield from _scored(NEW_WHIP, setting, learnt, _questions(setting.workshop, made))


def _of_recorded_cords(setting: Setting) -> list[MadeWhip]:
    """New whips whose cords all occur in recorded ones; of eight whips one cord or another is in none."""
    recorded = setting.workshop.make(setting.whips, "recorded")
    known = {cord.cord for whip in recorded for layer in whip.real.layers for cord in layer.cords}
    made = setting.workshop.make(setting.test_whips, "new")
    return [whip for whip in made if all(x.cord in known for layer in whip.real.layers for x in layer.cords)]


def _new_cord(setting: Setting, learnt: Learnt, row: str = NEW_CORD) -> Iterator[dict[str, Any]]:
    workshop = setting.workshop
    for cord in workshop.never_recorded:
        made = workshop.make_with(cord, setting.whips_per_cord, f"with {cord}")
        typical = () if row == MEASURED else (cord,)
        yield from _scored(row, setting, learnt, _questions(workshop, made, cord, typical))


def _measured(setting: Setting, learnt: Learnt) -> Iterator[dict[str, Any]]:
    habits = replace(setting.workshop.habits, ruler=True)
    ruled = open_workshop(setting.mechanics, setting.seed, habits)
    again = learn(observed(ruled, ruled.make(setting.whips, "recorded")), setting.params)
    yield from _new_cord(replace(setting, workshop=ruled), again, MEASURED)


def _after_one(setting: Setting, learnt: Learnt) -> Iterator[dict[str, Any]]:
    workshop = setting.workshop
    before = observed(workshop, workshop.make(setting.whips, "recorded"))
    for cord in workshop.never_recorded:
        first = observed(workshop, workshop.make_with(cord, 1, f"first with {cord}"))
        again = learn([*before, *first], setting.params)
        made = workshop.make_with(cord, setting.whips_per_cord, f"with {cord}")
        yield from _scored(AFTER_ONE, setting, again, _questions(workshop, made, cord, (cord,)))


def _rest(setting: Setting, learnt: Learnt) -> Iterator[dict[str, Any]]:
    made = setting.workshop.make(setting.test_whips, "new")
    found = []
    for whip in made:
        questions = _questions(setting.workshop, [whip])
        taken = tuple(question.observation for question in questions[:TAKEN])
        found += [replace(question, readings=taken) for question in questions[TAKEN:]]
    yield from _scored(REST, setting, learnt, found)


def _belly(setting: Setting, learnt: Learnt) -> Iterator[dict[str, Any]]:
    workshop = replace(setting.workshop, habits=replace(setting.workshop.habits, inner_every=1))
    found = []
    for whip in workshop.make(setting.test_whips, "new"):
        belly = tuple(x for x in observed(workshop, [whip]) if x.inner)
        found += [replace(question, readings=belly) for question in _questions(workshop, [whip])]
    yield from _scored(BELLY, setting, learnt, found)


def _wrong(setting: Setting, learnt: Learnt) -> Iterator[dict[str, Any]]:
    careless = replace(setting.workshop, habits=replace(setting.workshop.habits, wrong=0.02))
    again = learn(observed(careless, careless.make(setting.whips, "recorded")), setting.params)
    made = _of_recorded_cords(setting)
    yield from _scored(WRONG, setting, again, _questions(setting.workshop, made))


_TRIALS: dict[str, Callable[[Setting, Learnt], Iterator[dict[str, Any]]]] = {
    NEW_WHIP: _new_whip,
    NEW_CORD: _new_cord,
    MEASURED: _measured,
    AFTER_ONE: _after_one,
    REST: _rest,
    BELLY: _belly,
    WRONG: _wrong,
}


def _questions(
    workshop: Workshop, made: Sequence[MadeWhip], cord: str = "", without_quirks: Sequence[str] = ()
) -> list[Asked]:
    """The finished readings of these whips; with ``cord`` only those on stacks that contain it."""
    found = []
    for whip in made:
        for reading in whip.noted.readings:
            if reading.after_layer is not None:
                continue
            stack = whip.real_stack(reading, workshop.catalogue)
            if cord and cord not in {x.name for x in stack.cords}:
                continue
            expected = workshop.expected_mm(stack, whip.real.maker or "", reading.condition, without_quirks)
            found.append(
                Asked(observation(workshop, whip, reading), math.log(expected), cord or whip.noted.label)
            )
    return found


def _scored(
    row: str, setting: Setting, learnt: Learnt, questions: Sequence[Asked]
) -> Iterator[dict[str, Any]]:
    predictions = learnt.model.predict([question.query for question in questions])
    others = {rival.name: _rival_logs(rival, questions) for rival in learnt.rivals}
    for k, (question, prediction) in enumerate(zip(questions, predictions, strict=True)):
        measured = question.observation.diameter_mm
        yield {
            "row": row,
            "mechanics": setting.mechanics.name,
            "seed": setting.seed,
            "whips": setting.whips,
            "group": question.group,
            "depth": sum(layer.role in PLAITED for layer in question.observation.stack.layers),
            "new cord": prediction.new_cord,
            "floor": math.log(measured) - question.expected_log,
            "model": math.log(measured / prediction.diameter_mm),
            **_inside(prediction, measured),
            **{name: math.log(measured) - float(logs[k]) for name, logs in others.items()},
        }


def _inside(prediction: Prediction, measured: float) -> dict[str, bool]:
    return {
        "in 50": prediction.low_50_mm <= measured <= prediction.high_50_mm,
        "in 90": prediction.low_90_mm <= measured <= prediction.high_90_mm,
    }


def _rival_logs(rival: Rival, questions: Sequence[Asked]) -> Any:
    """Predictions of a rival, shifted by its mean residual on the readings already taken of the same whip."""
    logs, _ = rival.predict([question.observation for question in questions])
    shifts: dict[tuple[int, ...], float] = {}
    for k, question in enumerate(questions):
        taken = question.readings
        key = tuple(map(id, taken))
        if taken and key not in shifts:
            guessed, _ = rival.predict(taken)
            shifts[key] = float(np.mean(np.log([x.diameter_mm for x in taken]) - guessed))
        logs[k] += shifts.get(key, 0.0)
    return logs
