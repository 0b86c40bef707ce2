"""The description of the interface: as OpenAPI for programs, as a plain page for people."""

import base64
import copy
import hashlib
import re
from html import escape
from typing import Any, Final

from fastapi import FastAPI
from fastapi.responses import HTMLResponse
from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from plaitlog.service.api.documented import PREFIX
from plaitlog.service.schemas.charts import CordChartOut, WhipDrawingOut
from plaitlog.service.schemas.failures import Failure
from plaitlog.service.schemas.photos import PhotoEdit
from plaitlog.service.schemas.plan_spec import PlanSpec
from plaitlog.service.schemas.prediction import QueryIn
from plaitlog.service.schemas.wanted import (
    AddIn,
    AdviceIn,
    EditIn,
    FitIn,
    HandlingIn,
    LikeIn,
    QuestionsIn,
    ReplanIn,
    StartIn,
)

INTRODUCTION: Final = """
Everything is stored in mm, g and m; keys that end in a unit hold numbers in it, and the same key without
that ending takes text as a maker types it, such as `5' 6 1/2"` or `12,7 mm`. A record is the same here as
on a line of a JSON Lines file: a value, `"none"` (it is known that there is none), or absent (not known).

Every record has a `version`. An edit or a removal names the version it rests on; where somebody else was
faster it is refused with both values. Whatever is changed has a number in the history and can be undone.

Names and labels in an address are percent-encoded, slashes too. Nothing is ever changed by GET.
"""
BESIDE: Final[tuple[type[BaseModel], ...]] = (
    Failure,
    FitIn,
    AddIn,
    ReplanIn,
    StartIn,
    AdviceIn,
    HandlingIn,
    LikeIn,
    QuestionsIn,
    QueryIn,
    PlanSpec,
    PhotoEdit,
    CordChartOut,
    WhipDrawingOut,
)
"""Shapes that are not the only good answer of an operation."""
EDITED: Final = ("Maker", "Cord", "Stock", "Whip", "Reading", "Rating")
METHODS: Final = ("get", "post", "put", "patch", "delete")
STYLE: Final = (
    "html{color-scheme:light dark}"
    "body{font:16px/1.5 sans-serif;max-width:70rem;margin:2rem auto;padding:0 1rem}"
    "td{padding:.2rem 1rem .2rem 0;vertical-align:top}code{font-size:.95em;overflow-wrap:anywhere}"
    "@media(max-width:40rem){tr,td{display:block;padding:0}tr{margin:.7rem 0}}"
)
_HASH: Final = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
PAGE_POLICY: Final = f"default-src 'none'; style-src 'sha256-{_HASH}'; frame-ancestors 'none'"


def register(app: FastAPI) -> None:
    """Complete the description with what is sent, and add the page."""
    plain = app.openapi

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            app.openapi_schema = completed(plain())
        return app.openapi_schema

    app.openapi = openapi  # type: ignore[method-assign]

    def page() -> HTMLResponse:
        return HTMLResponse(as_page(openapi()), headers={"Content-Security-Policy": PAGE_POLICY})

    app.add_api_route(PREFIX, page, methods=["GET"], include_in_schema=False)


def completed(description: dict[str, Any]) -> dict[str, Any]:
    """The description with the shapes of bodies that no answer holds."""
    shapes = description["components"]["schemas"]
    _, sent = models_json_schema(
        [(shape, "validation") for shape in BESIDE], ref_template="#/components/schemas/{model}"
    )
    for name, shape in sent["$defs"].items():
        shapes.setdefault(name, shape)
    for noun in EDITED:
        shapes[f"{noun}Edit"] = edit_shape(noun, shapes[f"{noun}Record"])
    questions = shapes["QuestionsIn"]["properties"]["questions"]
    # What is no question has an error in the place of its answer, so anything may stand here.
    questions["items"] = {"anyOf": [{"$ref": "#/components/schemas/QueryIn"}, {}]}
    return description


def edit_shape(noun: str, record: dict[str, Any]) -> dict[str, Any]:
    """The shape of an edit: any keys of the record but its kind, and the version it rests on."""
    shape = EditIn.model_json_schema()
    keys = {name: key for name, key in record["properties"].items() if name != "kind"}
    changes = shape["properties"]["changes"]
    changes["properties"] = copy.deepcopy(keys)
    changes["additionalProperties"] = False
    return {**shape, "title": f"{noun}Edit", "description": f"An edit of a {noun.lower()} record."}


def as_page(description: dict[str, Any]) -> str:
    """Every operation in one table, as HTML without a script."""
    rows = "".join(
        f"<tr><td><code>{method.upper()}</code></td><td><code>{escape(path)}</code></td>"
        f"<td>{escape(operations[method]['summary'])}</td></tr>"
        for path, operations in description["paths"].items()
        for method in METHODS
        if method in operations
    )
    marked = re.sub("`(.+?)`", r"<code>\1</code>", escape(INTRODUCTION.strip(), quote=False))
    text = "".join(f"<p>{part}</p>" for part in marked.split("\n\n"))
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Plaitlog: API</title>'
        f'<meta name="viewport" content="width=device-width"><style>{STYLE}</style></head><body>'
        f"<h1>Plaitlog: API</h1>{text}<p>For programs: "
        f'<a href="{PREFIX}/openapi.json">openapi.json</a></p><table>{rows}</table></body></html>'
    )
