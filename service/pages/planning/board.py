"""The page of a plan: the form, what is wanted beside it, and the plans made so far side by side."""

import json
from collections.abc import Mapping
from typing import Any, Final

from fastapi import Request
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, PlaitlogError
from plaitlog.service.pages.planning.cards import card
from plaitlog.service.pages.planning.fields import field_name, form_data, told_changes
from plaitlog.service.pages.planning.wanted import wanted_data
from plaitlog.service.pages.refusals import told as told_finding
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.drafts import drafts
from plaitlog.service.usecases.jobs import latest_jobs
from plaitlog.service.usecases.listing import latest_change
from plaitlog.service.usecases.planning.boards import KIND, Board, KeptPlan
from plaitlog.service.usecases.planning.laid import laid_plan
from plaitlog.service.usecases.planning.plan_words import on_the_tape_of
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.recording.bench import bench_of as bench_for_recording
from plaitlog.service.usecases.recording.proposals import next_label

DRAFTS_SHOWN: Final = 8
CARDS_KEPT: Final = 64
"""Cards that a server remembers, so that a page with several plans need not tell them all anew."""
Errors = Mapping[str, Finding]


def board_page(
    request: Request,
    session: Session,
    token: str,
    typed: Mapping[str, str],
    found: Board | None = None,
    *,
    errors: Errors | None = None,
    others: list[Finding] | None = None,
    start: Mapping[str, str] | None = None,
) -> dict[str, Any]:
    """errors : by field; others : what is about no field. start : number, label and what was refused of a
    whip that was to be begun."""
    shown = preferences().shown
    plans = () if found is None else found.plans
    return {
        **form_data(session, token, typed, shown),
        **wanted_data(session, typed, shown),
        "turn": 0 if found is None else found.turn,
        "title": "Plan a whip" if found is None or not plans else f"Plan: {found.title}",
        "errors": {key: told_finding(one) for key, one in (errors or {}).items()},
        "mending": [
            {"field": key, "name": field_name(key), **told_finding(one)}
            for key, one in (errors or {}).items()
        ],
        "others": [told_finding(one) for one in others or []],
        "plans": [_plan_data(request, session, one, plans[0]) for one in plans],
        "start": dict(start or {"number": "", "label": "", "refused": ""}),
        "next_label": next_label(bench_for_recording(session, None)) if plans else "",
        "drafts": _others(session, token) if not plans else [],
        "under_way": [
            {"number": job.number, "doing": job.doing}
            for job in latest_jobs(session, "plan", limit=10)
            if job.live and job.asked.get("token") == token
        ],
    }


def _plan_data(request: Request, session: Session, one: KeptPlan, first: KeptPlan) -> dict[str, Any]:
    about = {
        "number": one.number,
        "words": one.words,
        "changed": told_changes(first.typed, one.typed) if one is not first else [],
        "card": None,
        "refused": None,
    }
    try:
        return {**about, "card": kept_card(request, session, one)}
    except PlaitlogError as error:
        # A cord that was renamed, a whip that was removed: what is typed is still there to be mended.
        return {**about, "refused": told_finding(error.finding)}


def kept_card(request: Request, session: Session, one: KeptPlan) -> dict[str, Any]:
    """A kept plan as it is told now; told once for as long as no record, fit or unit changes."""
    shown = preferences().shown
    asked = json.dumps([one.spec, one.layers])
    key = (asked, shown, fit_in_force(session).number, latest_change(session))
    state = request.app.state
    cards: dict[Any, dict[str, Any]] = getattr(state, "plan_cards", {})
    state.plan_cards = cards
    if key not in cards:
        told = laid_plan(session, {"spec": one.spec, "layers": one.layers})
        cards[key] = card(told, on_the_tape_of(told.bench, shown))
        while len(cards) > CARDS_KEPT:
            cards.pop(next(iter(cards)), None)
    return cards[key]


def _others(session: Session, token: str) -> list[dict[str, Any]]:
    """Plans that were begun before, the latest first."""
    return [
        {
            "token": one.token,
            "title": one.title,
            "day": f"{one.changed_at:%Y-%m-%d}",
            "plans": len(json.loads(one.texts.get("plans", "[]"))),
        }
        for one in drafts(session, KIND)[:DRAFTS_SHOWN]
        if one.token != token
    ]
