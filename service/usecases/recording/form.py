"""The recording dialogue as a form: all answers at once, as typed, each read by the question it answers.

An empty field is not known. What cannot be taken is told beside its own field, and the others are read on.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.usecases.recording.dialogue import SKIPPED, Bench, Draft, Mode, Question
from plaitlog.service.usecases.recording.questions import questions
from plaitlog.service.usecases.recording.record import NEEDED, answer

Texts = Mapping[str, str]
"""What was typed, by the key of the question."""

FILLED_IN: Final = frozenset(
    {"units.lengths", "units.diameters", "label", "type", "maker", "status", "made_on", "datum"}
)
"""Answers that a new form begins with; every other proposal waits to be taken."""


@dataclass(frozen=True, slots=True)
class Field:
    """A question with what was typed: what it means, or what is to be mended."""

    question: Question
    typed: str
    echo: str = ""
    findings: tuple[Finding, ...] = ()
    error: Finding | None = None

    @property
    def needed(self) -> bool:
        """Whether it is empty and must not stay so."""
        return self.error is not None and self.error.code == NEEDED


@dataclass(frozen=True, slots=True)
class Filled:
    """A form as it stands.

    draft : what could be taken, in the order of the questions.
    sketched : the same with cords that are still to be named by their letter, to look at the rest already.
    """

    fields: tuple[Field, ...]
    draft: Draft
    sketched: Draft

    @property
    def wrong(self) -> tuple[Field, ...]:
        """Fields that stand in the way of keeping it."""
        return tuple(field for field in self.fields if field.error is not None)

    @property
    def asked(self) -> frozenset[str]:
        return frozenset(field.question.key for field in self.fields)


def fill(typed: Texts, mode: Mode, bench: Bench) -> Filled:
    """Ask every question of what was typed. A layer that cannot be read is left out, those after it too."""
    fields: list[Field] = []
    taken: list[tuple[str, str]] = []
    sketched: list[tuple[str, str]] = []
    for question, given in _walk(mode, bench):
        field, kept = _asked(question, one_line(typed.get(question.key, "")))
        given.append((question.key, kept))
        fields.append(field)
        text = SKIPPED if field.error is not None else kept
        taken.append((question.key, text))
        named = field.needed and is_letter(question.key)
        sketched += _named_by_letter(question.key) if named else [(question.key, text)]
    return Filled(tuple(fields), Draft(mode, tuple(taken)), Draft(mode, tuple(sketched)))


def _walk(mode: Mode, bench: Bench) -> Iterator[tuple[Question, list[tuple[str, str]]]]:
    """Every question in turn, with the answers so far: the next one is asked when its answer stands there.

    The questions are asked lazily, so that one walk does what asking for the next one again and again would.
    """
    given: list[tuple[str, str]] = []
    for question in questions(Draft(mode, given), bench):
        yield question, given


def one_line(typed: str) -> str:
    """What was typed as one line: a line break parts words like a blank."""
    return " ".join(typed.split("\n")).replace("\r", "").strip()


def _asked(question: Question, text: str) -> tuple[Field, str]:
    """The field, and the answer that later questions go by."""
    try:
        taken = answer(Draft(), question, text or "-")
    except InputError as error:
        # A layer with a slip in it still has its cords, and others lie over it: their questions stay.
        kept = text if question.key.startswith("layer.") and text else SKIPPED
        return Field(question, text, error=error.finding), kept
    return Field(question, text, taken.echo, taken.findings), taken.draft.answers[-1][1]


def is_letter(key: str) -> bool:
    """Whether the question is which cord goes by a letter."""
    return key.startswith("cord.") and len(key) == len("cord.A")


def _named_by_letter(key: str) -> list[tuple[str, str]]:
    name = f"cord {key.removeprefix('cord.')}"
    return [(key, name), (f"{key}.material", SKIPPED), (f"{key}.construction", SKIPPED)]


def first_texts(mode: Mode, bench: Bench, given: Texts) -> dict[str, str]:
    """What a new form begins with: what is given, else the proposals of a few questions."""
    typed = {key: text for key, text in given.items() if text}
    for question, answers in _walk(mode, bench):
        key = question.key
        left_open = key not in FILLED_IN or key in given or (mode == "old" and key == "label")
        if not left_open and question.proposal:
            typed[key] = question.proposal
        answers.append((key, _asked(question, typed.get(key, ""))[1]))
    return typed
