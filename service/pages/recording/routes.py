"""Record a finished whip: one form, drafts that are never lost."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response
from sqlalchemy.orm import Session

from plaitlog.models.errors import InputError
from plaitlog.service.database import reading, write
from plaitlog.service.pages.forms import Form, Posted
from plaitlog.service.pages.recording.data import Sheet, sheet_data, texts_of
from plaitlog.service.pages.refusals import told
from plaitlog.service.pages.rendering import data_answer, go_to, page, part, path_of, wants_json
from plaitlog.service.preferences import preferences, remember_units
from plaitlog.service.usecases import drafts
from plaitlog.service.usecases.recording.bench import bench_of
from plaitlog.service.usecases.recording.dialogue import Bench, Mode
from plaitlog.service.usecases.recording.form import first_texts
from plaitlog.service.usecases.recording.keeping import keep_whip
from plaitlog.service.usecases.recording.like import like as made_like
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import whip as whip_by_label
from plaitlog.service.web_requests import Database

routes = APIRouter(include_in_schema=False)
KIND: Final = "record"
Token = Annotated[str, Path(pattern=r"^[A-Za-z0-9_-]{8,40}$")]


@routes.get("/record")
def new(
    request: Request, database: Database, like: str = "", other_cord: str = "", old: str = "", aside: str = ""
) -> Response:
    """An empty form, or one with what another whip has; and the forms that are not finished."""
    mode: Mode = "old" if old == "yes" else "new"
    with reading(database) as session:
        bench = _bench(session)
        given: dict[str, str] = {"maker": preferences().maker or ""}
        if like or other_cord:
            whip = whip_by_label(session, like or other_cord)
            given = made_like(whip, bench.units or ShownUnits(), other_cord=not like)
        texts = first_texts(mode, bench, {key: text for key, text in given.items() if text})
        sheet = Sheet(drafts.new_token(), mode, texts, like=like or other_cord)
        data = sheet_data(session, bench, sheet)
    return page(request, "record.html", {**data, "aside": aside})


@routes.get("/record/{token}")
def again(request: Request, database: Database, token: Token) -> Response:
    """A form that was begun, as it was left."""
    with reading(database) as session:
        found = drafts.one(session, token)
        if isinstance(found, drafts.Receipt) and whip_is_there(session, found):
            return go_to(_whip(found))
        bench = _bench(session)
        if isinstance(found, drafts.Draft):
            sheet = Sheet(token, _mode(found.texts), dict(found.texts), seen=found.turn)
        else:
            sheet = Sheet(token, "new", first_texts("new", bench, {}))
        data = sheet_data(session, bench, sheet)
    return page(request, "record.html", {**data, "aside": ""})


@routes.get("/record/{token}/standing")
def standing(database: Database, token: Token) -> Response:
    """What is kept under a token: for a browser that kept something under it too."""
    with reading(database) as session:
        found = drafts.one(session, token)
    if isinstance(found, drafts.Receipt):
        return data_answer({"state": "recorded", "turn": 0})
    return data_answer({"state": "draft", "turn": found.turn} if found else {"state": "unknown", "turn": 0})


@routes.post("/record/{token}/look")
def look(request: Request, database: Database, token: Token, form: Posted) -> Response:
    """Look over what is typed so far and keep it as a draft: for the script of the page."""
    data = _looked(database, token, form)
    return data_answer(data) if wants_json(request) else part("_record_answer.html", data)


@routes.post("/record/{token}")
def sent(request: Request, database: Database, token: Token, form: Posted) -> Response:
    """The form: looked over, a proposal taken, or kept."""
    if form.text("do") != "keep":
        data = _looked(database, token, form, take=form.text("take"), opened=form.text("do") == "look")
        return page(request, "record.html", {**data, "aside": ""})
    with reading(database) as session:
        units = _bench(session).units
    try:
        done = write(database, lambda session: _kept(session, token, form))
    except InputError as error:
        refused = [told(one) for one in (error.finding, *getattr(error, "findings", ()))]
        data = _looked(database, token, form, refused=refused)
        return page(request, "record.html", {**data, "aside": ""}, 422)
    if done is None:
        data = _looked(database, token, form, asked_to_keep=True)
        return page(request, "record.html", {**data, "aside": ""}, 422)
    if units is None and done.units is not None:
        remember_units(done.units)
    return go_to(_whip(done.receipt))


@routes.post("/record/{token}/aside")
def put_aside(database: Database, token: Token) -> Response:
    """Take a draft off the list of what is not finished."""
    write(database, lambda session: drafts.put_aside(session, token))
    return go_to(f"/record?aside={token}")


@routes.post("/record/{token}/back")
def bring_back(database: Database, token: Token) -> Response:
    """Put it on the list again."""
    write(database, lambda session: drafts.bring_back(session, token))
    return go_to(f"/record/{token}")


@dataclass(frozen=True, slots=True)
class Done:
    """A whip that is kept, now or by the same form before; the units that were asked for in its form."""

    receipt: drafts.Receipt
    units: ShownUnits | None = None


def _kept(session: Session, token: str, form: Form) -> Done | None:
    """Keep the whip and let its draft go; None where a field of it is still to be mended."""
    found = drafts.one(session, token)
    if isinstance(found, drafts.Receipt) and whip_is_there(session, found):
        return Done(found)
    bench = _bench(session)
    texts = texts_of(form, bench)
    kept = keep_whip(session, texts, _mode(texts), bench)
    if kept is None:
        return None
    drafts.finish(session, token, kept.label, kept.change)
    return Done(drafts.Receipt(kept.label, kept.change), kept.units)


def _looked(
    database: Database,
    token: str,
    form: Form,
    *,
    take: str = "",
    opened: bool = False,
    asked_to_keep: bool = False,
    refused: list[dict[str, str]] | None = None,
) -> dict[str, Any]:
    """What is typed, looked over and kept as a draft, as data of the page."""
    with reading(database) as session:
        bench = _bench(session)
        texts = texts_of(form, bench, take=take)
    title = texts.get("label", "").strip() or "a whip without a label"
    tab, seen, turn = form.text("tab"), _number(form.text("seen")), _number(form.text("turn"))
    saved = write(
        database,
        lambda session: drafts.keep(session, token, KIND, title, texts, tab=tab, turn=turn, seen=seen),
    )
    beside = isinstance(saved, drafts.Kept) and saved.beside
    sheet = Sheet(
        saved.token if isinstance(saved, drafts.Kept) else token,
        _mode(texts),
        texts,
        seen=saved.turn if isinstance(saved, drafts.Kept) else seen,
        state="recorded" if isinstance(saved, drafts.Receipt) else "beside" if beside else "kept",
        opened=opened,
        asked_to_keep=asked_to_keep,
        refused=refused or [],
    )
    with reading(database) as session:
        return sheet_data(session, bench, sheet)


def whip_is_there(session: Session, receipt: drafts.Receipt) -> bool:
    """Whether what a form recorded is still recorded: it may have been taken back since."""
    try:
        whip_by_label(session, receipt.title)
    except InputError:
        return False
    return True


def _whip(receipt: drafts.Receipt) -> str:
    change = "" if receipt.change is None else f"?change={receipt.change}"
    return f"{path_of('whips', receipt.title)}{change}"


def _bench(session: Session) -> Bench:
    return bench_of(session, preferences().units)


def _mode(texts: Mapping[str, str]) -> Mode:
    return "old" if texts.get("mode") == "old" else "new"


def _number(typed: str) -> int:
    return int(typed) if typed.isdecimal() and len(typed) <= 15 else 0
