"""Questions of the recording dialogue for how a whip handles, each with its anchors in one line."""

from collections.abc import Iterator, Mapping
from functools import partial
from typing import Any, Final

from plaitlog.service.usecases.recording import answers
from plaitlog.service.usecases.recording.dialogue import Draft, Noted, Question

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


def rating_questions(draft: Draft) -> Iterator[Question]:
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
    for quality, (ask, anchors) in RATED.items():
        yield Question(
            key=f"rating.{quality}",
            ask=f"{ask} ({anchors})",
            read=partial(_score, quality),
            help="1 to 10, x for not tried, Enter to skip.",
        )
    for side, ask in FELT.items():
        yield Question(
            key=f"feel.{side}",
            ask=f"Feel: {ask}",
            read=partial(_feel, side),
        )


def _session(keys: Mapping[str, Any]) -> Noted:
    return Noted(records=({"kind": "rating", **keys},))


def _score(quality: str, typed: str) -> Noted:
    return _session({"scores": {quality: answers.score(typed)}})


def _feel(side: str, typed: str) -> Noted:
    return _session({"feel": {side: answers.feel(typed)}})
