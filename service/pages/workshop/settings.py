"""Units, number style, maker."""

from dataclasses import replace
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy import Engine

from plaitlog.models.errors import Finding
from plaitlog.service.database import reading
from plaitlog.service.pages.forms import Posted
from plaitlog.service.pages.refusals import told
from plaitlog.service.pages.rendering import go_to, page
from plaitlog.service.preferences import DIAMETERS, LENGTHS, Preferences, preferences, remember
from plaitlog.service.usecases.json_lines import unstorable
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import makers
from plaitlog.service.web_requests import Database

routes = APIRouter(include_in_schema=False)

THONG_MM: Final = 1676.4
PLACE_MM: Final = 774.7
THICK_MM: Final = 14.3
LENGTH_NAMES: Final = {"in": "feet and inches", "mm": "millimetres", "cm": "centimetres", "m": "metres"}
DIAMETER_NAMES: Final = {"mm": "millimetres", "in": "inches"}
CHOICES: Final = {
    "lengths": LENGTHS,
    "diameters": DIAMETERS,
    "fractions": ("yes", "no"),
    "mark": ("point", "comma"),
}


@routes.get("/settings")
def settings(request: Request, database: Database) -> Response:
    kept = preferences()
    data = _data(database, _texts(kept), kept.shown)
    return page(request, "settings.html", {**data, "kept": request.query_params.get("kept") == "yes"})


@routes.post("/settings")
def keep(request: Request, database: Database, form: Posted) -> Response:
    """Keep them for the pages and for the command line alike."""
    typed = {name: form.text(name) for name in (*CHOICES, "maker")}
    findings = {name: told(one) for name, one in _findings(typed)}
    if findings:
        data = {**_data(database, typed, preferences().shown), "findings": findings, "kept": False}
        return page(request, "settings.html", data, 422)
    units = ShownUnits(
        next(unit for unit in LENGTHS if unit == typed["lengths"]),
        next(unit for unit in DIAMETERS if unit == typed["diameters"]),
        fractions=typed["fractions"] == "yes",
        decimal_comma=typed["mark"] == "comma",
    )
    remember(replace(preferences(), units=units, maker=typed["maker"] or None))
    return go_to("/settings?kept=yes")


def _findings(typed: dict[str, str]) -> Any:
    for name, known in CHOICES.items():
        if typed[name] not in known:
            text = f"{typed[name]!r} is none of these" if typed[name] else "nothing was chosen"
            yield name, Finding("unknown-choice", text, "choose one")
    if unstorable(typed["maker"]) is not None:
        yield "maker", Finding("maker-name", "this name cannot be stored", "type it again")


def _texts(kept: Preferences) -> dict[str, str]:
    shown = kept.shown
    return {
        "lengths": shown.lengths,
        "diameters": shown.diameters,
        "fractions": "yes" if shown.fractions else "no",
        "mark": "comma" if shown.decimal_comma else "point",
        "maker": kept.maker or "",
    }


def _data(database: Engine, texts: dict[str, str], shown: ShownUnits) -> dict[str, Any]:
    with reading(database) as session:
        known = makers(session)
    lengths = [replace(shown, lengths=unit) for unit in LENGTHS]
    diameters = [replace(shown, diameters=unit) for unit in DIAMETERS]
    return {
        "texts": texts,
        "findings": {},
        "makers": known,
        "options": {
            "lengths": [
                [one.lengths, f"{LENGTH_NAMES[one.lengths]} ({one.long_length(THONG_MM)})"] for one in lengths
            ],
            "diameters": [
                [one.diameters, f"{DIAMETER_NAMES[one.diameters]} ({one.diameter(THICK_MM)})"]
                for one in diameters
            ],
            "fractions": [["yes", "fractions (30 1/2 in)"], ["no", "decimals (30.5 in)"]],
            "mark": [["point", "point (14.3)"], ["comma", "comma (14,3)"]],
        },
        "shown": [
            f"a thong of {shown.long_length(THONG_MM)}",
            f"a place at {shown.length(PLACE_MM)}",
            f"a diameter of {shown.diameter(THICK_MM)}",
        ],
    }
