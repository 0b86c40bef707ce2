"""Plans beside each other while one is at it: a draft with the form as typed and every plan made from it.

A plan is kept as its question and its layers; what is expected of it is told anew each time, by the fit in
force. Of a whip on the bench that is planned again there is one such plan, with how far the whip was.
"""

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any, Final

from sqlalchemy.orm import Session

from plaitlog.models.calibration.prediction import Observation
from plaitlog.models.errors import Finding, InputError, NotFoundError
from plaitlog.service.usecases import drafts
from plaitlog.service.usecases.planning.choice_questions import question_of
from plaitlog.service.usecases.planning.plan_json import planned_layer
from plaitlog.service.usecases.planning.planning import Told
from plaitlog.service.usecases.planning.replanning import Replanned, Standing, records_ahead

KIND: Final = "plan"
AGAIN: Final = "plan again"
MOST: Final = 8
"""More plans beside each other nobody compares (own choice)."""
TOKEN: Final = re.compile(r"[\w-]{8,40}", re.ASCII)
BESIDE: Final = "plans"
"""Field of the draft that holds the plans, as JSON; no field of the form is called so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPlan:
    """words : what speaks for it. typed : the form it was made from. spec, layers : as in plan.json."""

    number: int
    words: str
    typed: Mapping[str, str]
    spec: Mapping[str, Any]
    layers: Sequence[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """The form as typed last, and the plans in the order in which they were made. turn : counts its saves."""

    token: str
    title: str
    typed: Mapping[str, str]
    turn: int = 0
    plans: tuple[KeptPlan, ...] = ()

    def plan(self, number: int) -> KeptPlan:
        """NotFoundError where it was taken away."""
        for one in self.plans:
            if one.number == number:
                return one
        raise NotFoundError(Finding("plan-not-found", f"there is no plan {number} here", "see the others"))


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedAgain:
    """What lies ahead of a whip, planned again and not yet recorded. version, seen : of the record and of the
    readings that it rests on. spec : what was asked for instead of what is kept with the whip, None: that.
    layers : as in its record."""

    label: str
    version: int
    seen: str
    standing: Standing
    spec: Mapping[str, Any] | None
    layers: Sequence[Any]


def board(session: Session, token: str) -> Board | None:
    """The board of a token; None where there is none, or it is a draft of something else."""
    found = drafts.one(session, token)
    if not isinstance(found, drafts.Draft) or found.kind != KIND:
        return None
    typed = {key: text for key, text in found.texts.items() if key != BESIDE}
    plans = json.loads(found.texts.get(BESIDE, "[]"))
    return Board(
        token=token,
        title=found.title,
        typed=typed,
        turn=found.turn,
        plans=tuple(KeptPlan(**plan) for plan in plans),
    )


def keep_typed(
    session: Session, token: str, typed: Mapping[str, str], turn: int, *, aside: bool = False
) -> Board:
    """Keep the form as it is typed; the plans stay.

    turn : of this save, counted by the page. aside : it was saved while typing, and comes to nothing where
    it is not later than the last.
    """
    known = board(session, token)
    if known is None:
        if not TOKEN.fullmatch(token) or drafts.one(session, token) is not None:
            raise NotFoundError(Finding("draft-not-found", "there is no such plan", "begin a new one"))
        known = Board(token=token, title="", typed={}, turn=-1)
    if aside and turn <= known.turn:
        return known
    title = typed.get("label", "").strip() or "plan without a name"
    turn = turn if aside else max(turn, known.turn + 1)
    found = replace(known, typed=dict(typed), title=title, turn=turn)
    _write(session, found)
    return found


def room_for_more(found: Board | None) -> None:
    """InputError where as many plans lie beside each other as may."""
    if found is not None and len(found.plans) >= MOST:
        text = f"{len(found.plans)} plans lie beside each other already"
        raise InputError(Finding("too-many", text, "take one of them away"))


def add_plans(
    session: Session, token: str, typed: Mapping[str, str], spec: Mapping[str, Any], told: Told
) -> list[int]:
    """Put a plan, and the others that were told with it, beside those there are; their numbers.

    One that lies there already is not put there twice.
    """
    found = board(session, token) or keep_typed(session, token, typed, 0)
    made = [(one.words, one.plan) for one in told.choices] or [("as asked for", told.plan)]
    numbers, plans = [], list(found.plans)
    for words, plan in made:
        asked = question_of(spec, told.bench, plan)
        layers = json.loads(json.dumps([planned_layer(layer) for layer in plan.whip.layers]))
        same = [one for one in plans if one.spec == asked and one.layers == layers]
        if not same:
            number = max([one.number for one in plans], default=0) + 1
            same = [KeptPlan(number=number, words=words, typed=dict(typed), spec=asked, layers=layers)]
            plans += same
        numbers.append(same[0].number)
    _write(session, replace(found, plans=tuple(plans)))
    return numbers


def take_away(session: Session, token: str, number: int) -> None:
    """Take one plan from the board; NotFoundError where it is not there."""
    found = board(session, token)
    if found is not None:
        gone = found.plan(number)
        _write(session, replace(found, plans=tuple(one for one in found.plans if one is not gone)))


def keep_again(session: Session, token: str, again: Replanned, spec: Mapping[str, Any] | None) -> None:
    """Keep what lies ahead as it was planned again, to be looked at before it is recorded."""
    label = again.plan.whip.label
    texts = {
        "label": label,
        "version": str(again.version),
        "seen": digest_of(again.readings),
        "layer": str(again.standing.slot),
        "to_mm": repr(again.standing.to_mm),
        "spec": json.dumps(spec),
        "layers": json.dumps(records_ahead(again)),
    }
    drafts.keep(session, token, AGAIN, label, texts)


def digest_of(readings: Sequence[Observation]) -> str:
    """The same for the same readings: one that came in, or was changed, is noticed."""
    return hashlib.sha256(repr(tuple(readings)).encode()).hexdigest()


def planned_again(session: Session, token: str) -> PlannedAgain | None:
    found = drafts.one(session, token)
    if not isinstance(found, drafts.Draft) or found.kind != AGAIN:
        return None
    texts = found.texts
    return PlannedAgain(
        label=texts["label"],
        version=int(texts["version"]),
        seen=texts["seen"],
        standing=Standing(int(texts["layer"]), float(texts["to_mm"])),
        spec=json.loads(texts["spec"]),
        layers=json.loads(texts["layers"]),
    )


def _write(session: Session, found: Board) -> None:
    plans = json.dumps([asdict(plan) for plan in found.plans])
    drafts.keep(session, found.token, KIND, found.title, {**found.typed, BESIDE: plans}, turn=found.turn)
