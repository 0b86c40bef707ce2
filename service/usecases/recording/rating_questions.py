"""Questions of the recording dialogue for how a whip handles, each with its anchors in one line."""

from collections.abc import Collection, Iterator, Mapping
from functools import partial
from typing import Any, Final

from plaitlog.models.errors import nearest_or
from plaitlog.models.whip import COMPARISONS
from plaitlog.service.usecases.recording import answers
from plaitlog.service.usecases.recording.dialogue import SKIPPED, Bench, Draft, Noted, Question, mend

RATED: Final[Mapping[str, tuple[str, str]]] = {
    "ease": (
        "Ease",
        "1 cracks only with full force, 5 most ordinary throws crack, 10 a lazy wrist cracks it",
    ),
    "volley": (
        "Volley",
        "1 the second crack fails, 5 four to six in rhythm, 10 twenty and more at any tempo",
    ),
    "accuracy": ("Accuracy", "hits of ten throws on a 1 in paper strip: 1 none or one, 5 five, 10 ten"),
    "roll_out": ("Roll-out", "1 kinks or stalls, 5 rolls with a hurried or slow place, 10 one smooth loop"),
    "recovery": ("Recovery", "1 tangles, 5 ready after a beat, 10 falls in line, next throw at once"),
    "tracking": ("Tracking", "1 twists out of plane, 5 wanders now and then, 10 stays in plane"),
    "balance": ("Balance", "1 the wrist tires in two minutes, 5 noticed, bearable, 10 weight forgotten"),
    "overall": ("Overall", "1 would not hand it on, 5 sound practice whip, 10 the one I keep"),
}
FELT: Final[Mapping[str, str]] = {
    "thong_handle": "-2 thong-heavy to +2 handle-heavy",
    "limp_stiff": "-2 limp to +2 stiff",
    "slow_quick": "-2 slow to +2 quick",
}


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
    for quality, (ask, anchors) in RATED.items():
        yield Question(
            key=f"rating.{quality}",
            ask=f"{ask} ({anchors})",
            read=partial(_score, quality, beside),
            help=f"1 to 10, {'better, same, worse, ' if beside else ''}x for not tried, Enter to skip.",
        )
    for side, ask in FELT.items():
        yield Question(
            key=f"feel.{side}",
            ask=f"Feel: {ask}",
            read=partial(_feel, side),
        )


def _session(keys: Mapping[str, Any]) -> Noted:
    return Noted(records=({"kind": "rating", **keys},))


def _other_whip(labels: Collection[str], typed: str) -> Noted:
    if typed not in labels:
        remedy = nearest_or(typed, labels, "type a label of the workshop, or Enter to skip")
        raise mend("unknown-whip", f"there is no whip {typed!r}", remedy)
    return _session({"compared_with": typed})


def _score(quality: str, beside: bool, typed: str) -> Noted:
    word = typed.casefold()
    score = word if beside and word in COMPARISONS else answers.score(typed)
    return _session({"scores": {quality: score}})


def _feel(side: str, typed: str) -> Noted:
    return _session({"feel": {side: answers.feel(typed)}})
