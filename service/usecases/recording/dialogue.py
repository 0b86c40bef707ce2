"""The terms of the dialogue that records a whip: questions, answers so far, what is known beforehand.

All of it is plain data, so that a prompt and a page can ask the same questions.
"""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final, Literal

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits

Mode = Literal["new", "old"]
SKIPPED: Final = ""
"""The answer to a question that was passed over: not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """What is known before the first question: workshop, last whip, day, units, the fit in force.

    ``lots``: those in stock by cord, where some are noted.
    """

    today: dt.date
    labels: frozenset[str] = frozenset()
    makers: tuple[str, ...] = ()
    cords: Mapping[str, Cord] = field(default_factory=dict)
    lots: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    last: Whip | None = None
    units: ShownUnits | None = None
    in_force: InForce | None = None


@dataclass(frozen=True, slots=True)
class Noted:
    """What an answer adds.

    ``whip``: keys of the whip's record as it stands in a file; lists are appended, dicts merged.
    ``records``: records beside it (a cord that is new, a rating session).
    ``answer``: the answer as it is kept, where that is not the text as typed.
    ``echo``: the meaning in words; ``findings``: what to look at.
    """

    whip: Mapping[str, Any] = field(default_factory=dict)
    records: tuple[Mapping[str, Any], ...] = ()
    answer: str | None = None
    echo: str = ""
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question. ``read`` turns text into what it adds and raises InputError where it cannot.

    ``proposal`` is taken where nothing is typed; ``none``: the answer "none" means known to be absent.
    """

    key: str
    ask: str
    read: Callable[[str], Noted]
    proposal: str = ""
    choices: tuple[str, ...] = ()
    help: str = ""
    none: bool = False
    required: bool = False


@dataclass(frozen=True, slots=True)
class Draft:
    """A whip half recorded: the answers in the order given, and texts of answers taken back."""

    mode: Mode = "new"
    answers: Sequence[tuple[str, str]] = ()
    taken_back: Mapping[str, str] = field(default_factory=dict)

    def text(self, key: str) -> str | None:
        """The answer to a question; None where it was not asked yet."""
        return dict(self.answers).get(key)

    def with_answer(self, key: str, text: str) -> "Draft":
        return replace(self, answers=(*self.answers, (key, text)))

    def without_last(self) -> "Draft":
        """One question back; what was typed is proposed again."""
        if not self.answers:
            return self
        key, text = self.answers[-1]
        return replace(self, answers=self.answers[:-1], taken_back={**self.taken_back, key: text})


def mend(code: str, text: str, remedy: str) -> InputError:
    """The error of an answer that cannot be taken."""
    return InputError(Finding(code, text, remedy))
