"""Recording a whip by questions and answers: which question is next, what an answer adds, the record so far.

Draft in, draft out: nothing here waits, prints or stores, so that a prompt and a page can lead the same
dialogue. The record that comes out has the shape of a line of an import and is stored like one.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from plaitlog.models.errors import Finding
from plaitlog.models.whip import NONE
from plaitlog.service.usecases.recording.dialogue import SKIPPED, Bench, Draft, Noted, Question, mend
from plaitlog.service.usecases.recording.questions import questions
from plaitlog.service.usecases.shown_units import ShownUnits

Record = dict[str, Any]
NEEDED: Final = "needed"
"""The code of the error of a question that needs an answer and has none."""


@dataclass(frozen=True, slots=True)
class Answered:
    """The draft with one answer more, and its meaning in words."""

    draft: Draft
    echo: str = ""
    findings: tuple[Finding, ...] = ()


def next_question(draft: Draft, bench: Bench) -> Question | None:
    """The first question without an answer; None at the end. What was taken back is proposed again."""
    answered = dict(draft.answers)
    return next((question for question in questions(draft, bench) if question.key not in answered), None)


def proposal(draft: Draft, question: Question) -> str:
    """What Enter answers."""
    return draft.taken_back.get(question.key) or question.proposal


def answer(draft: Draft, question: Question, typed: str) -> Answered:
    """Take an answer: Enter takes the proposal or skips, "-" is not known, "none" is known to be absent.

    Raises
    ------
    InputError
        Where the text is no answer to this question; the draft stays as it was.
    """
    text = typed.strip() or proposal(draft, question)
    if text in {"", "-"}:
        if question.required:
            raise mend(NEEDED, f"{question.ask} is needed", "type it")
        return Answered(draft.with_answer(question.key, SKIPPED))
    noted = _noted(question, text)
    return Answered(draft.with_answer(question.key, noted.answer or text), noted.echo, noted.findings)


def back(draft: Draft) -> Draft:
    """One question back."""
    return draft.without_last()


def records(draft: Draft, bench: Bench) -> list[Record]:
    """What the answers so far say, as records of an import: new cords, the whip, a rating session."""
    whip: Record = {"kind": "whip"}
    cords: dict[str, Record] = {}
    session: Record = {}
    for question, text in _given(draft, bench):
        noted = _noted(question, text)
        _merge(whip, noted.whip)
        for record in noted.records:
            _merge(cords.setdefault(record["name"], {}) if record["kind"] == "cord" else session, record)
    for place, name in whip.pop("cords_of_layers", {}).items():
        whip["layers"][int(place) - 1]["cord"] = name
    for place, lot in whip.pop("lots_of_layers", {}).items():
        whip["layers"][int(place) - 1]["lot"] = lot
    if lines := whip.pop("readings_lines", None):
        whip["readings"] = "\n".join(lines)
    found = [*cords.values(), whip]
    if session and "label" in whip:
        worn: Record = {part: whip[part] for part in ("fall", "cracker") if part in whip}
        by = {"by": whip["maker"]} if "maker" in whip else {}
        session = {
            "kind": "rating",
            "whip": whip["label"],
            **by,
            "on": bench.today.isoformat(),
            **worn,
            **session,
        }
        found.append(session)
    return found


def typed_units(draft: Draft) -> ShownUnits | None:
    """The units that were asked for in this dialogue, to be remembered."""
    if draft.text("units.lengths") is None or draft.text("units.diameters") is None:
        return None
    found = dict(draft.answers)
    return ShownUnits(found["units.lengths"] or "in", found["units.diameters"] or "mm")  # type: ignore[arg-type]


def _given(draft: Draft, bench: Bench) -> Iterator[tuple[Question, str]]:
    answered = dict(draft.answers)
    for question in questions(draft, bench):
        text = answered.get(question.key)
        if text is None:
            return
        if text != SKIPPED:
            yield question, text


def _noted(question: Question, text: str) -> Noted:
    if text.casefold() != NONE:
        return question.read(text)
    if not question.none:
        raise mend("none-has-no-meaning", f"{question.ask}: none is no answer here", "leave it empty")
    return Noted({question.key: NONE}, echo=f"{question.ask.split(':')[0]}: none")


def _merge(record: Record, added: Mapping[str, Any]) -> None:
    for key, value in added.items():
        if isinstance(value, Mapping) and isinstance(record.get(key), dict):
            _merge(record[key], value)
        elif isinstance(value, list) and isinstance(record.get(key), list):
            record[key] = [*record[key], *value]
        else:
            record[key] = dict(value) if isinstance(value, Mapping) else value


def to_json(draft: Draft) -> dict[str, Any]:
    """A draft as it is kept while the dialogue is broken off."""
    return {
        "mode": draft.mode,
        "answers": [list(pair) for pair in draft.answers],
        "taken_back": dict(draft.taken_back),
    }


def from_json(kept: Mapping[str, Any]) -> Draft:
    """A kept draft; ValueError where it is none."""
    mode, pairs, taken_back = kept.get("mode"), kept.get("answers"), kept.get("taken_back")
    if mode not in {"new", "old"} or not isinstance(pairs, Sequence) or not isinstance(taken_back, Mapping):
        raise ValueError("not a draft")
    if not all(isinstance(pair, list) and [type(part) for part in pair] == [str, str] for pair in pairs):
        raise ValueError("not a draft")
    return Draft(mode, tuple((key, text) for key, text in pairs), dict(taken_back))
