"""The forms on the page that edits a whip: what stands in them, what was typed, what is to be mended."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from fastapi import Request
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError, RecordError
from plaitlog.models.whip import CONDITIONS, Whip
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.forms import Form
from plaitlog.service.pages.refusals import findings_of, told
from plaitlog.service.usecases.changes.recorded import Part, Recorded, recorded
from plaitlog.service.usecases.changes.typed_facts import Fact, facts_to_type
from plaitlog.service.usecases.changes.typed_layers import (
    LETTERS,
    TypedLayer,
    layers_changes,
    letters,
    read_line,
    typed_layers,
)
from plaitlog.service.usecases.changes.typed_readings import FIELDS, reading_changes, reading_texts
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.whip_facts import rating_parts
from plaitlog.service.usecases.workshop import cords_by_name, makers, ratings_with_keys, whip

FORMS: Final = frozenset({"facts", "layers", "reading"})
EMPTY_LINES: Final = 2
"""Lines for layers that are not recorded yet."""
FREE_LETTERS: Final = 2
IN_WORDS: Final = {"in": "inches", "ft": "feet", "mm": "mm", "cm": "cm", "m": "metres"}
COMPLETE: Final = {"yes": True, "no": False, "": None}


@dataclass(frozen=True, slots=True)
class Typed:
    """A form that could not be taken: its texts, what its button says, what is to be mended where.

    conflicts : by key of the record what was typed and what is stored by now.
    """

    form: Form | None = None
    what: str = ""
    wrong: Mapping[str, Finding] = field(default_factory=dict)
    conflicts: Mapping[str, tuple[object, object]] = field(default_factory=dict)

    def of(self, what: str) -> "Form | None":
        """The form, where it is this one."""
        return self.form if self.what == what else None


def wrong_in(error: InputError) -> dict[str, Finding]:
    """What is to be mended, by the first word of its place: a key of the record, or "layer 2"."""
    found: dict[str, Finding] = {}
    for finding in findings_of(error):
        place, _, rest = finding.where.partition(", ")
        word = place.partition(" ")[0]
        if word == "layers":
            place = place.replace("layers", "layer", 1)
        elif word not in {"layer", "readings", "ratings"}:
            place = word
        found.setdefault(place, Finding(finding.code, finding.text, finding.remedy, rest))
    return found


def facts_typed(session: Session, form: Form, shown: ShownUnits) -> dict[str, Any]:
    """The changes that the form of a whip's own facts means; RecordError with all that is to be mended."""
    changes: dict[str, Any] = {}
    wrong = []
    for fact in _facts(session, shown):
        text = form.text(f"fact.{fact.key}")
        if not form.has(f"fact.{fact.key}") or text == form.text(f"was.{fact.key}"):
            continue
        try:
            changes |= fact.changes(text)
        except InputError as error:
            wrong.append(Finding(error.finding.code, error.finding.text, error.finding.remedy, fact.key))
    if wrong:
        raise RecordError(*wrong)
    return changes


def layers_typed(session: Session, label: str, form: Form, shown: ShownUnits) -> dict[str, Any]:
    """The changes that the form of layers means; RecordError with every line that is to be mended."""
    complete = COMPLETE.get(form.text("complete"))
    return layers_changes(_lines(form), _named(form), complete, whip(session, label), shown)


def reading_typed(form: Form, shown: ShownUnits) -> dict[str, Any]:
    texts = {name: form.text(name) for name in FIELDS}
    return reading_changes(texts, {name: form.text(f"was.{name}") for name in FIELDS}, shown)


def _facts(session: Session, shown: ShownUnits) -> tuple[Fact, ...]:
    return facts_to_type(
        shown, makers=makers(session), cords=cords_by_name(session), today=dt.date.today()  # noqa: DTZ011
    )  # fmt: skip


def _lines(form: Form) -> list[TypedLayer]:
    """The lines of layers in the order that their places say."""
    found = []
    for number in range(1, 1000):
        if not form.has(f"line.{number}"):
            break
        was = form.text(f"was.{number}")
        line = TypedLayer(
            line=form.text(f"line.{number}"),
            lot=form.text(f"lot.{number}"),
            notes=form.text(f"notes.{number}"),
            was=int(was) if was.isdecimal() and 0 < len(was) < 4 and int(was) else None,
        )
        found.append((_place(form.text(f"place.{number}"), number), line))
    return [line for _, line in sorted(found, key=lambda one: one[0])]


def _place(typed: str, otherwise: int) -> float:
    try:
        return min(max(float(typed.replace(",", ".")), 0.0), 1000.0)
    except ValueError:
        return float(otherwise)


def _named(form: Form) -> dict[str, str]:
    chosen = {letter: form.text(f"letter.{letter}") for letter in LETTERS}
    return {letter: cord for letter, cord in chosen.items() if cord}


def echo_data(session: Session, label: str, form: Form, shown: ShownUnits) -> dict[str, Any]:
    """The lines of layers in words, while they are typed."""
    found, named = whip(session, label), _named(form)
    return {"echo": [_echo(line, found, named, shown) for line in _lines(form) if line.line]}


def _echo(line: TypedLayer, of: Whip, named: Mapping[str, str], shown: ShownUnits) -> dict[str, Any]:
    read = read_line(line, of, named, shown)
    return {
        "words": read.echo,
        "findings": [told(one) for one in read.findings],
        "error": None if read.error is None else told(read.error),
    }


def edit_data(
    request: Request, session: Session, label: str, shown: ShownUnits, typed: Typed
) -> dict[str, Any]:
    """The whole page; the form that could not be taken as it was typed, the others as recorded."""
    stored = recorded(session, "whip", label)
    found = whip(session, label)
    facts = _facts_data(session, stored, shown, typed)
    layers = _layers_data(found, shown, typed)
    readings = [_reading_data(one, shown, typed) for one in stored.parts["reading"]]
    return {
        "banner": banner(request, session),
        "label": label,
        "version": stored.version,
        "stale": typed.what in FORMS and any(one.code == "stale-edit" for one in typed.wrong.values()),
        "errors": _errors(typed, facts, layers),
        "facts": facts,
        "layers": layers,
        "letters": _letters_data(found, typed),
        "cords": list(cords_by_name(session)),
        "complete": _complete(found, typed),
        "echo": [
            _echo(one, found, _letter_cords(found, typed), shown) for one in _shown_lines(found, shown, typed)
        ],
        "readings": readings,
        "conditions": list(CONDITIONS),
        "layer_names": [[str(k), f"{k} {x.role}"] for k, x in enumerate(found.layers, start=1)],
        "ratings": [
            {"number": key, "version": version, **rating_parts(rating)}
            for key, version, rating in ratings_with_keys(session, label)
        ],
        "units": {"lengths": IN_WORDS[shown.lengths], "diameters": IN_WORDS[shown.diameters]},
    }


def _errors(typed: Typed, facts: list[dict[str, Any]], layers: list[dict[str, Any]]) -> list[dict[str, str]]:
    """What is to be mended and stands beside no field."""
    if typed.what not in FORMS:
        return [told(one) for one in typed.wrong.values()]
    if typed.what == "reading":
        return []  # all of it stands beside the reading
    beside = {error["text"] for row in (*facts, *layers) if (error := row["error"])}
    found = {key: one for key, one in typed.wrong.items() if one.code != "stale-edit"}
    return [told(one.at(key) if key else one) for key, one in found.items() if one.text not in beside]


def _facts_data(session: Session, stored: Recorded, shown: ShownUnits, typed: Typed) -> list[dict[str, Any]]:
    form = typed.of("facts")
    rows = []
    for fact in _facts(session, shown):
        now = fact.text(stored.record)
        text = form.text(f"fact.{fact.key}") if form is not None else now
        if form is not None and text == form.text(f"was.{fact.key}"):
            text = now  # it was not touched here: what is stored by now stands
        wrong = typed.wrong.get(fact.key) if form is not None else None
        for key in fact.keys if form is not None else ():
            wrong = wrong or typed.wrong.get(key)
        conflict = form is not None and any(key in typed.conflicts for key in fact.keys) and text != now
        rows.append(
            {
                "key": fact.key,
                "name": fact.name,
                "text": text,
                "was": now,
                "hint": fact.hint,
                "choices": list(fact.choices),
                "open": fact.open,
                "none": fact.none,
                "long": fact.long,
                "error": None if wrong is None else told(wrong),
                "now": (now or "nothing") if conflict else "",
            }
        )
    return rows


def _layers_data(of: Whip, shown: ShownUnits, typed: Typed) -> list[dict[str, Any]]:
    form = typed.of("layers")
    lines = _shown_lines(of, shown, typed)
    lines += [TypedLayer(line="")] * EMPTY_LINES
    recorded_now = {one.was: one.line for one in typed_layers(of, shown)}
    rows = []
    for place, one in enumerate(lines, start=1):
        wrong = typed.wrong.get(f"layer {place}") if form is not None else None
        now = recorded_now.get(one.was, "")
        rows.append(
            {
                "line": one.line,
                "lot": one.lot,
                "notes": one.notes,
                "was": one.was or "",
                "error": None if wrong is None else told(wrong),
                "now": now if typed.conflicts and form is not None and now != one.line else "",
            }
        )
    return rows


def _shown_lines(of: Whip, shown: ShownUnits, typed: Typed) -> list[TypedLayer]:
    form = typed.of("layers")
    return typed_layers(of, shown) if form is None else [one for one in _lines(form) if one.line]


def _letter_cords(of: Whip, typed: Typed) -> dict[str, str]:
    form = typed.of("layers")
    return letters(of) if form is None else _named(form)


def _letters_data(of: Whip, typed: Typed) -> list[list[str]]:
    """Letters with their cords, and a few that are free."""
    named = _letter_cords(of, typed)
    free = [letter for letter in LETTERS if letter not in named][:FREE_LETTERS]
    return [[letter, named.get(letter, "")] for letter in sorted([*named, *free])]


def _complete(of: Whip, typed: Typed) -> str:
    form = typed.of("layers")
    if form is not None:
        return form.text("complete")
    return next(text for text, value in COMPLETE.items() if value is of.layers_complete)


def _reading_data(one: Part, shown: ShownUnits, typed: Typed) -> dict[str, Any]:
    """One reading; the one that could not be taken as it was typed."""
    now = reading_texts(one.record, shown)
    form = typed.of("reading")
    mine = form is not None and form.text("number") == str(one.number)
    texts = {name: form.text(name) for name in FIELDS} if form is not None and mine else now
    return {
        "number": one.number,
        "version": one.version,
        "texts": texts,
        "was": now,
        "errors": [told(finding) for finding in typed.wrong.values()] if mine else [],
        "now": _reading_words(now) if mine and typed.conflicts else "",
    }


def _reading_words(texts: Mapping[str, str]) -> str:
    layer = f", on layer {texts['after_layer']}" if texts["after_layer"] else ""
    rest = [texts["condition"], "doubtful" if texts["doubtful"] else "", texts["on"], texts["notes"]]
    return ", ".join(filter(None, [f"{texts['size']} at {texts['at']}{layer}", *rest]))
