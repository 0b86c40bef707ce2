"""A rating session of a whip: who, when, eight qualities with their anchors, three two-sided notes."""

import datetime as dt
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.models.errors import InputError, NotFoundError, StaleEditError
from plaitlog.models.whip import COMPARISONS
from plaitlog.service import errors
from plaitlog.service.database import reading, write
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.forms import Form, Posted
from plaitlog.service.pages.refusals import findings_of, told
from plaitlog.service.pages.rendering import go_to, page, path_of
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.adding import add_record
from plaitlog.service.usecases.changes.editing import edit_rating
from plaitlog.service.usecases.describing import rating_line
from plaitlog.service.usecases.listing import one_rating
from plaitlog.service.usecases.rating_anchors import CARE, FELT, RATED
from plaitlog.service.usecases.rating_texts import rating_of, texts_of
from plaitlog.service.usecases.workshop import ratings_with_keys, whip
from plaitlog.service.web_requests import Database, Name, whole_number

routes = APIRouter(include_in_schema=False)
FIELDS: Final = ("by", "on", "hours_of_use", "fall", "cracker", "compared_with", "notes")
SCORES: Final = [str(score) for score in range(1, 11)]


@routes.get("/rate/{label:name}")
def rate(request: Request, database: Database, label: Name) -> Response:
    """An empty session, or with ``?session=N`` the one that is to be mended."""
    key = whole_number(request.query_params.get("session", ""))
    with reading(database) as session:
        if key is None:
            found = whip(session, label)
            texts = {
                "by": preferences().maker or found.maker or "",
                "on": f"{dt.datetime.now().astimezone():%Y-%m-%d}",
            }
            texts |= {part: getattr(found, part) or "" for part in ("fall", "cracker")}
        else:
            stored = one_rating(session, key)
            texts = {**texts_of(stored.record), "session": str(key), "version": str(stored.version)}
        data = _data(request, session, label, texts)
    return page(request, "rating.html", data)


@routes.post("/rate/{label:name}")
def keep(request: Request, database: Database, label: Name, form: Posted) -> Response:
    """Keep the session; what cannot be taken is told beside its field, with everything that was typed."""
    try:
        number = _kept(database, label, form)
    except NotFoundError:
        raise
    except InputError as error:
        findings = [told(one) for one in findings_of(error)]
        with reading(database) as session:
            data = _data(request, session, label, form.texts(), findings, conflict_of(error))
        return page(request, "rating.html", data, errors.status(error))
    return go_to(f"{path_of('whips', label)}{f'?change={number}' if number else ''}")


def _kept(database: Engine, label: str, form: Form) -> int | None:
    record = rating_of(label, form.texts())
    if not form.text("session"):
        # Sent twice it is one session: the same person, day and scores of a whip count as sent again.
        added = write(database, lambda session: add_record(session, record, again=True))
        return added.number
    key, version = form.number("session") or 0, form.number("version") or 0
    changes = {name: record.get(name) for name in (*FIELDS, "scores", "feel")}
    return write(database, lambda session: edit_rating(session, key, changes, version=version)).number


def conflict_of(error: InputError) -> list[dict[str, str]]:
    """What somebody else changed meanwhile: the value as typed here, and as it is stored now."""
    if not isinstance(error, StaleEditError):
        return []
    return [
        {"key": key, "typed": str(typed), "stored": str(stored)}
        for key, (typed, stored) in error.conflicts.items()
    ]


def _data(
    request: Request,
    session: Session,
    label: str,
    texts: dict[str, str],
    findings: list[dict[str, str]] | None = None,
    conflict: list[dict[str, str]] | None = None,
) -> dict[str, Any]:
    found = whip(session, label)
    wrong = {one["where"]: one for one in findings or ()}
    return {
        "label": found.label,
        "texts": texts,
        "qualities": [
            {
                "key": quality,
                "name": anchors.name,
                "anchors": [["1", anchors.one], ["5", anchors.five], ["10", anchors.ten]],
                "options": _options(texts.get(f"score.{quality}", "")),
                "error": wrong.get(f"scores, {quality}"),
            }
            for quality, anchors in RATED.items()
        ],
        "comparisons": list(COMPARISONS),
        "feels": [{"key": side, "less": less, "more": more} for side, (less, more) in FELT.items()],
        "errors": {field: wrong.get(field) for field in FIELDS},
        "other_findings": [
            one for one in findings or () if not one["where"].startswith((*FIELDS, "scores, "))
        ],
        "conflict": conflict or [],
        "care": CARE,
        "sessions": [
            {"key": key, "version": version, "words": rating_line(rating)}
            for key, version, rating in ratings_with_keys(session, label)
        ],
        "banner": banner(request, session),
    }


def _options(chosen: str) -> list[str]:
    """The whole scores, and the one that is chosen where that is another (7.5)."""
    others = {"", "not tried", *COMPARISONS, *SCORES}
    return SCORES if chosen in others else sorted([*SCORES, chosen], key=float)
