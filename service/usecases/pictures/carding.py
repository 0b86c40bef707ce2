"""The blank card: the questions of recording, in their order, laid out to be answered by hand.

The questions come from the dialogue itself, led through once with empty answers, so that card and dialogue
cannot drift apart.
"""

import datetime as dt
from collections.abc import Iterator
from typing import Final

from plaitlog.models.whip import CONDITIONS, NOT_TRIED, ROLES, Cord
from plaitlog.service.reports.blank_card import BlankCard, Block, CardField
from plaitlog.service.reports.card_fields import APART
from plaitlog.service.usecases.predicting import CAUTION
from plaitlog.service.usecases.recording.dialogue import SKIPPED, Bench, Draft, Question
from plaitlog.service.usecases.recording.proposals import TEST_PLAIT
from plaitlog.service.usecases.recording.questions import questions
from plaitlog.service.usecases.shown_units import ShownUnits

LAYERS: Final = 4
LAYERS_OF_PLAIT: Final = 2
IN_WORDS: Final = {"in": "inches", "ft": "feet", "mm": "mm", "cm": "cm", "m": "metres"}
ALL_QUESTIONS: Final = "bullwhip"
"""The type that is asked everything: the card of a whip whose type is left open follows it."""
_LETTERS: Final = "ABCD"
_STEERING: Final = frozenset({"rate"})
"""Questions that only lead the dialogue on."""


def blank_card(kind: str | None = None, units: ShownUnits | None = None) -> BlankCard:
    """The card for a type of whip, or for any; numbers without a unit are meant in ``units``."""
    typed_in = units or ShownUnits()
    asked = [x for x in questions_in_order(kind or ALL_QUESTIONS, typed_in) if x.key not in _STEERING]
    return BlankCard(
        title=f"{kind.capitalize() if kind else 'Whip'}: card for the bench",
        beside_title=CAUTION,
        fields=tuple(_field(question, kind) for question in asked),
        block=block_of,
        roles=ROLES,
        reading_heads=(
            (f"at ({typed_in.lengths})", 1.0),
            (f"Ø ({typed_in.diameters})", 1.0),
            ("across it", 0.9),
            ("on layer", 0.9),
        ),
        beside_layers=(
            "Circle the role. Its strands from the datum to the point, places in "
            f"{IN_WORDS[typed_in.lengths]}:"
        ),
        notation=NOTATION,
        beside_readings=(
            f"finished, or on an inner layer before it is covered; ? doubtful; circle:{APART}"
            f"{APART.join(CONDITIONS)}"
        ),
        not_tried=NOT_TRIED,
        cautions=(BUILDING, THROWING) if any(x.key.startswith("rating.") for x in asked) else (BUILDING,),
    )


NOTATION: Final = (
    "16A; 30: -2 each 4 to 8 tuck 3; p   means 16 strands of cord A; at 30 two fewer, then two fewer every 4 "
    "down to 8, each dropped one tucked for 3; on to the point. Or cut, or run (on inside), gut: sheath "
    "only; end: it ends; ? not noted; ~30 about; 28..34 between; p8 8 before the point; 8A+8B two cords; "
    "u3o3 the pattern. Without strands: 0.2\u00a0mm thread to 40.",
)
BUILDING: Final = (
    "Cut away from the hand; saw and grind rods with eye protection, round and cap their ends. Burning nylon "
    "drips, sticks and burns: ventilate; wax in a double boiler, no open flame, never water on burning wax. "
    "Cord under pull cuts fingers: tape or gloves, never round the hand, eyes clear when a strand lets go. "
    "No lead in a whip that is sold; keep loose shot from children."
)
THROWING: Final = (
    "Throw with eye and ear protection and long clothes, in a clear circle well over the whip's whole length "
    "plus the arm, nobody and no animal in it or as a target, never indoors; check heel knot, hitch, fall "
    "and rod first. Local law and a qualified teacher come before anything printed here."
)


def questions_in_order(kind: str, units: ShownUnits) -> Iterator[Question]:
    """Every question of recording a new whip of that type with as many layers as the card has lines."""
    bench = Bench(
        today=dt.date(1970, 1, 2),  # no answer depends on it
        cords={letter: Cord(name=letter, material="", construction="cored") for letter in _LETTERS},
        units=units,
    )
    most = LAYERS_OF_PLAIT if kind == TEST_PLAIT else LAYERS
    draft = Draft("new")
    while True:
        answered = dict(draft.answers)
        question = next((x for x in questions(draft, bench) if x.key not in answered), None)
        if question is None:
            return
        if not question.key.startswith("layer.") or int(question.key.partition(".")[2]) <= most:
            yield question
        draft = draft.with_answer(question.key, _leads_on(question.key, kind, most))


def _leads_on(key: str, kind: str, layers: int) -> str:
    """The answer after which everything that a card needs is asked: every layer in a cord of its own."""
    if key == "type":
        return kind
    if key == "rate":
        return "yes"
    head, _, number = key.partition(".")
    if head == "layer" and int(number) <= layers:
        role = "overlay" if int(number) == layers else "belly"
        return f"{role} 2{_LETTERS[int(number) - 1]}"
    return number if head == "cord" else SKIPPED


def block_of(key: str) -> Block:
    """The block of the card that a question belongs to."""
    head = key.partition(".")[0]
    if head in {"layer", "cord", "complete"}:
        return "layers"
    if head == "readings":
        return "readings"
    if head in {"hours_of_use", "rating"}:
        return "scores"
    return "feels" if head == "feel" else "fields"


def _field(question: Question, kind: str | None) -> CardField:
    if block_of(question.key) == "layers":
        choices: tuple[str, ...] = ("yes", "no") if question.key == "complete" else ()
    else:
        choices = question.choices
    filled = kind or "" if question.key == "type" else ""
    return CardField(question.key, question.ask, choices, filled)
