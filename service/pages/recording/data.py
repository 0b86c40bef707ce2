"""The recording form as one data dict: what was typed, what it means, what is unfinished beside it."""

import datetime as dt
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final, get_args

from sqlalchemy.orm import Session

from plaitlog.models.units import LengthUnit
from plaitlog.models.whip import Role
from plaitlog.service.pages.forms import Form
from plaitlog.service.pages.recording.fields import group_of, groups, unasked
from plaitlog.service.pages.recording.look import look
from plaitlog.service.pages.recording.rows import LINE, proposed_role, with_lines
from plaitlog.service.pages.rendering import moment
from plaitlog.service.usecases import drafts
from plaitlog.service.usecases.recording.dialogue import Bench, Mode
from plaitlog.service.usecases.recording.form import Filled, fill
from plaitlog.service.usecases.shown_units import ShownUnits

NOT_KEPT: Final = frozenset({"do", "take", "tab", "turn", "seen"})
"""Fields that steer the form and are no part of what was typed."""
LONGEST: Final = 20_000
TITLES: Final = {"new": "Record a whip", "old": "Record an old whip"}


@dataclass(frozen=True, slots=True)
class Sheet:
    """A form as it goes to the browser.

    seen : number of the save that it rests on. ``opened``: the whip in words is to be read at once.
    """

    token: str
    mode: Mode
    texts: Mapping[str, str]
    seen: int = 0
    state: str = "new"
    like: str = ""
    opened: bool = False
    asked_to_keep: bool = False
    refused: list[dict[str, str]] = field(default_factory=list)


def texts_of(form: Form, bench: Bench, *, take: str = "") -> dict[str, str]:
    """What was typed, by field, with rows as lines, and with the proposals that were taken.

    take : key of one question, or ``group:lengths`` for all that is proposed in a group.
    """
    texts = {
        key: _storable(text[:LONGEST])
        for key, text in form.texts().items()
        if key not in NOT_KEPT and len(key) < 100
    }
    mode: Mode = "old" if texts.get("mode") == "old" else "new"
    if any(key.startswith("how.") and how != LINE for key, how in texts.items()) or any(
        key.startswith("was.") and how != LINE for key, how in texts.items()
    ):
        texts = with_lines(texts, _roles(fill(texts, mode, bench)), typed_in(bench, texts))
    wanted = take.removeprefix("group:")
    for _ in range(3 if take else 0):  # what is proposed may rest on a proposal before it
        for one in fill(texts, mode, bench).fields:
            key = one.question.key
            meant = group_of(key) == wanted if take.startswith("group:") else key == wanted
            if meant and not one.typed and one.question.proposal:
                texts[key] = one.question.proposal
    return texts


def _storable(text: str) -> str:
    """The text without what no database holds: signs that steer machines, halves of characters."""
    kept = "".join(sign for sign in text if sign >= " " or sign in "\n\t")
    return kept.encode("utf-8", "replace").decode()


def _roles(filled: Filled) -> dict[str, Role]:
    return {
        one.question.key: proposed_role(one.question.ask)
        for one in filled.fields
        if one.question.key.startswith("layer.")
    }


def typed_in(bench: Bench, texts: Mapping[str, str]) -> ShownUnits:
    """The units in which numbers without one are meant: as chosen before, else as chosen in this form."""
    if bench.units is not None:
        return bench.units

    def unit(key: str, otherwise: LengthUnit) -> LengthUnit:
        found: LengthUnit
        for found in get_args(LengthUnit):
            if found == texts.get(key):
                return found
        return otherwise

    return ShownUnits(unit("units.lengths", "in"), unit("units.diameters", "mm"))


def sheet_data(session: Session, bench: Bench, sheet: Sheet) -> dict[str, Any]:
    """The form as data of its page."""
    texts = {key: text for key, text in sheet.texts.items() if key != "mode"}
    filled = fill(texts, sheet.mode, bench)
    wrong = [one for one in filled.wrong if sheet.asked_to_keep or not one.needed]
    return {
        "title": TITLES[sheet.mode],
        "token": sheet.token,
        "mode": sheet.mode,
        "tab": secrets.token_urlsafe(6),
        "seen": sheet.seen,
        "turn": sheet.seen + 1,
        "state": sheet.state,
        "like": sheet.like,
        "groups": groups(filled, texts, asked_to_keep=sheet.asked_to_keep),
        "unasked": unasked(filled, texts),
        "look": {**look(filled, bench, typed_in(bench, texts)), "opened": sheet.opened},
        "refused": sheet.refused,
        "slips": [
            {"key": one.question.key, "label": one.question.ask.partition(" [")[0]}
            for one in wrong
            if sheet.asked_to_keep
        ],
        "unfinished": [
            _unfinished(one) for one in drafts.drafts(session, "record") if one.token != sheet.token
        ],
    }


def _unfinished(draft: drafts.Draft) -> dict[str, Any]:
    fields = sum(
        bool(text) for key, text in draft.texts.items() if not key.startswith(("was.", "how.", "mode"))
    )
    changed = draft.changed_at if draft.changed_at.tzinfo else draft.changed_at.replace(tzinfo=dt.UTC)
    return {
        "token": draft.token,
        "title": draft.title,
        "fields": fields,
        "changed": moment(changed),
    }
