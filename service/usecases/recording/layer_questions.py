"""Questions of the recording dialogue for what is plaited and measured: layers, their cords, readings."""

from collections.abc import Iterator, Mapping
from functools import partial
from typing import Any, Final

from plaitlog.models import units
from plaitlog.models.errors import Finding
from plaitlog.models.whip import CONSTRUCTIONS, Role
from plaitlog.service.usecases.recording import answers
from plaitlog.service.usecases.recording.dialogue import Bench, Draft, Noted, Question, mend
from plaitlog.service.usecases.recording.layers import is_given, letters_of, read_layer, role_of
from plaitlog.service.usecases.recording.proposals import Proposals
from plaitlog.service.usecases.recording.readings import read_readings
from plaitlog.service.usecases.shown_units import ShownUnits

LIMIT: Final = 12
"""Most layers, and most lines of readings, that the dialogue asks for."""


def layer_questions(draft: Draft, bench: Bench, known: Proposals, typed_in: ShownUnits) -> Iterator[Question]:
    letters: dict[str, str] = {}
    taken: list[str] = []
    point_mm = point_of(draft, typed_in)
    for place in range(1, LIMIT + 1):
        role = _proposed_role(taken, known)
        key = f"layer.{place}"
        yield Question(
            key=key,
            ask=f"Layer {place}{', innermost' if place == 1 else ''} [{role}]",
            read=partial(_layer, role, typed_in, dict(letters), point_mm),
            help=(
                "One line from the inside out: 16A; 30: -2 each 4 to 8 tuck 3; p   Begin with core, belly, "
                "bolster, binding or overlay where it is another. Without strands: binding 0.2 mm thread to "
                "40. Enter: no more layers, or not known."
            ),
        )
        typed = draft.text(key)
        if not typed:
            break
        found, rest = role_of(typed, role)
        taken.append(found)
        if not is_given(found, rest):
            used = letters_of(rest)
            if not used:
                yield from _cord(
                    draft, bench, f"cord.layer.{place}", f"Cord of the {found}", known, place, letters
                )
            for letter in used:
                if letter not in letters:
                    cord_key = f"cord.{letter}"
                    yield from _cord(draft, bench, cord_key, f"Cord {letter}", known, place, letters, letter)
                    letters[letter] = draft.text(cord_key) or ""
            if len(used) < 2:
                yield from _lot(bench, place, letters[used[0]] if used else draft.text(f"cord.layer.{place}"))
        if found == "overlay":
            break
    if taken:
        yield Question(
            key="complete",
            ask="Are these all the layers there are",
            read=_complete,
            proposal="yes" if "overlay" in taken and (draft.mode == "new" or len(taken) > 1) else "",
            help="Only where all layers are known can a reading teach how thick they come out.",
        )


def _layer(
    role: Role, typed_in: ShownUnits, letters: Mapping[str, str], point_mm: float | None, typed: str
) -> Noted:
    return read_layer(typed, role, typed_in, letters, point_mm)


def _complete(typed: str) -> Noted:
    return Noted({"layers_complete": answers.yes_no(typed)})


def _proposed_role(taken: list[str], known: Proposals) -> Role:
    if len(taken) < len(known.roles):
        return known.roles[len(taken)]
    return "overlay"


def point_of(draft: Draft, typed_in: ShownUnits) -> float | None:
    """Station of the point, where the answers give it."""
    typed = draft.text("thong_length")
    if not typed or draft.text("datum") == "butt":
        return None
    return answers.with_unit(typed, typed_in.lengths, units.LENGTH)[1]


def _cord(
    draft: Draft,
    bench: Bench,
    key: str,
    ask: str,
    known: Proposals,
    place: int,
    letters: Mapping[str, str],
    letter: str | None = None,
) -> Iterator[Question]:
    letters = dict(letters)
    new = cords_named(draft)
    names = (*bench.cords, *(name for name in new if name not in bench.cords))

    def read(typed: str) -> Noted:
        name = answers.pick(typed, names) or typed
        for other, taken in letters.items():
            if letter and taken == name:
                remedy = f"go back and write {other} in the line too, or name another cord"
                raise mend("letter-twice", f"{name} is {other} already", remedy)
        whip: dict[str, Any] = (
            {"letters": {letter: name}} if letter else {"cords_of_layers": {str(place): name}}
        )
        picked = name if name != typed else ""
        if name in names:
            return Noted(whip, answer=name, echo=picked)
        alike = [other for other in names if name.casefold() in other.casefold()]
        found = f"{name!r} is part of {' and of '.join(map(repr, alike))}"
        fits = (
            (Finding("fits-several", found, "type more of the name if one of them is meant"),)
            if alike
            else ()
        )
        return Noted(whip, answer=name, echo=f"{name}: new in the workshop", findings=fits)

    proposal = known.cord(letter, place, letters)
    yield Question(
        key=key,
        ask=ask,
        read=read,
        proposal=proposal,
        choices=names,
        required=letter is not None,
        help="A number from the list, a part of the name, or the name of a cord that is new.",
    )
    name = draft.text(key)
    if name and name not in bench.cords and cords_named(draft).get(name) == key:
        yield from _new_cord(name, key, known)


def _lot(bench: Bench, place: int, cord: str | None) -> Iterator[Question]:
    """The lot of a layer's only cord, asked where some lot of it is in stock."""
    lots = bench.lots.get(cord or "")
    if not lots:
        return

    def read(typed: str) -> Noted:
        lot = answers.pick(typed, lots) or typed
        return Noted({"lots_of_layers": {str(place): lot}}, answer=lot)

    yield Question(
        key=f"lot.layer.{place}",
        ask=f"Lot of {cord}",
        read=read,
        choices=lots,
        help="A number from the list, or another lot. Enter: not noted.",
    )


def cords_named(draft: Draft) -> dict[str, str]:
    """Cords by name that were named so far, and the question that named each first."""
    found: dict[str, str] = {}
    for key, text in draft.answers:
        if key.startswith("cord.") and text and not key.endswith((".material", ".construction")):
            found.setdefault(text, key)
    return found


def _new_cord(name: str, key: str, known: Proposals) -> Iterator[Question]:
    yield Question(
        key=f"{key}.material",
        ask=f"{name}: material",
        read=lambda typed: Noted(records=({"kind": "cord", "name": name, "material": typed},)),
        proposal=known.material,
        required=True,
    )
    yield Question(
        key=f"{key}.construction",
        ask=f"{name}: construction",
        read=lambda typed: _construction(name, typed),
        proposal="cored",
        choices=CONSTRUCTIONS,
        required=True,
        help="cored: sheath over inner yarns; gutted: sheath only; solid: a cut strand, leather.",
    )


def _construction(name: str, typed: str) -> Noted:
    taken = answers.choice("construction", CONSTRUCTIONS)(typed)
    return Noted(records=({"kind": "cord", "name": name, **taken.whip},), answer=taken.answer)


def reading_questions(draft: Draft, typed_in: ShownUnits) -> Iterator[Question]:
    head = f"{typed_in.lengths} {typed_in.diameters}"
    point_mm = point_of(draft, typed_in)
    for place in range(1, LIMIT + 1):
        key = f"readings.{place}"
        yield Question(
            key=key,
            ask=f"{'Readings' if place == 1 else 'More readings'} ({head})",
            read=lambda typed: read_readings(typed, draft, typed_in, point_mm),
            help=(
                "One line: 0 each 6: 19.2/18.8 17.9 16.4 _ 14.1? 12.6   or: thick 18.5; mid 13; p 7.2   Say "
                f"otherwise at the head: {head}, belly, fresh: 12: 13.9/13.5. Enter: no more."
            ),
        )
        if not draft.text(key):
            break
