"""Questions of the recording dialogue for how a whip handles, each with its anchors in one line."""

from collections.abc import Collection, Iterator, Mapping
from functools import partial
from typing import Any

from plaitlog.models.errors import nearest_or
from plaitlog.models.whip import COMPARISONS
from plaitlog.service.usecases.rating_anchors import FELT, RATED
from plaitlog.service.usecases.recording import answers
from plaitlog.service.usecases.recording.dialogue import SKIPPED, Bench, Draft, Noted, Question, mend


def rating_questions(draft: Draft, bench: Bench) -> Iterator[Question]:
    yield Question(
        key="rate",
        ask="Rate it now",
        read=lambda typed: Noted(answer="yes" if answers.yes_no(typed) else "no"),
        proposal="no",
        help="Eight qualities from 1 to 10 and three two-sided notes; any can be passed over.",
    )
    if draft.text("rate") != "yes":
        return

    yield Question(
        key="hours_of_use",
        ask="Hours of use so far",
        read=lambda typed: _session({"hours_of_use": answers.number(typed)}),
    )
    if bench.labels:
        yield Question(
            key="compared_with",
            ask="Thrown beside another whip: its label",
            read=partial(_other_whip, bench.labels),
            help="Then better, same or worse than it is a rating too. Enter to skip.",
        )
    beside = draft.text("compared_with") not in (None, SKIPPED)
    for quality, anchors in RATED.items():
        yield Question(
            key=f"rating.{quality}",
            ask=f"{anchors.name} ({anchors.line})",
            read=partial(_score, quality, beside),
            help=f"1 to 10, {'better, same, worse, ' if beside else ''}x for not tried, Enter to skip.",
        )
    for side, (less, more) in FELT.items():
        yield Question(
            key=f"feel.{side}",
            ask=f"Feel: -2 {less} to +2 {more}",
            read=partial(_feel, side),
        )


def _session(keys: Mapping[str, Any]) -> Noted:
    return Noted(records=({"kind": "rating", **keys},))


def _other_whip(labels: Collection[str], typed: str) -> Noted:
    if typed not in labels:
        remedy = nearest_or(typed, labels, "type a label of the workshop, or nothing")
        raise mend("unknown-whip", f"there is no whip {typed!r}", remedy)
    return _session({"compared_with": typed})


def _score(quality: str, beside: bool, typed: str) -> Noted:
    word = typed.casefold()
    score = word if beside and word in COMPARISONS else answers.score(typed)
    return _session({"scores": {quality: score}})


def _feel(side: str, typed: str) -> Noted:
    return _session({"feel": {side: answers.feel(typed)}})
