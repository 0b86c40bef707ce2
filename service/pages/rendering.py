"""From one data dict to a page: as HTML through a template, or as JSON where data is asked for.

A page shows nothing that is not in its data, so that what a person sees a program can read.
"""

import datetime as dt
import hashlib
import json
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, Final
from urllib.parse import quote

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import ChoiceLoader, Environment, FunctionLoader, PackageLoader, StrictUndefined

from plaitlog.service.reports.page import markup, template_source, unbroken

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""Nothing from elsewhere, nothing inline: neither scripts nor styles; ``blob:`` for a photo not yet sent."""
# "no-store" would also forget what was typed when somebody goes back a page. Under "no-referrer" a browser
# sends forms without their origin, and the guard would take them for a stranger's.
HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "Cache-Control": "no-cache",
    "Referrer-Policy": "same-origin",
    "Vary": "Accept",
}
CHARTS: Final = "charts.css"
"""The style of charts and tables, which reports have too."""


def page(request: Request, template: str, data: Mapping[str, Any], status: int = 200) -> Response:
    """Answer a request with a page, or with its data where JSON is accepted or ``?as=json`` is asked for.

    data : plain data only, as JSON knows it; every key is a name in the template.
    """
    if wants_json(request):
        return data_answer(data, status)
    # As it was sent, names still encoded: it serves as an address to come back to.
    path = request.scope.get("raw_path", b"").decode("latin-1") or request.url.path
    html = environment().get_template(template).render(**data, request_path=path)
    return HTMLResponse(html, status, headers=HEADERS)


def data_answer(data: Mapping[str, Any], status: int = 200) -> Response:
    """The data of a page, as JSON."""
    body = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return Response(
        body.encode("utf-8", "backslashreplace"), status, headers=HEADERS, media_type="application/json"
    )


def part(template: str, data: Mapping[str, Any], status: int = 200) -> Response:
    """A part of a page, for its script to put in place while one types."""
    return HTMLResponse(environment().get_template(template).render(**data), status, headers=HEADERS)


def go_to(address: str) -> Response:
    """On to another page after something was done: a reload then does it no second time."""
    return RedirectResponse(address, 303, headers={"Cache-Control": "no-store"})


def wants_json(request: Request) -> bool:
    accept = request.headers.get("accept", "")
    return request.query_params.get("as") == "json" or (
        "application/json" in accept and "text/html" not in accept
    )


def moment(at: dt.datetime) -> str:
    """An instant as a reader's clock shows it, to the minute."""
    return f"{at.astimezone():%Y-%m-%d %H:%M}"


def path_of(place: str, name: str) -> str:
    """The address of something that goes by a name: no character of the name is left to part the path."""
    quoted = quote(name, safe="")
    if not quoted.strip("."):
        quoted = quoted.replace(".", "%2E")  # else it would be read as "this folder" or the one above
    return f"/{place}/{quoted}"


@cache
def environment() -> Environment:
    made = Environment(
        # What a report and a page show alike stands in a template of the reports.
        loader=ChoiceLoader([PackageLoader("plaitlog.service.pages"), FunctionLoader(template_source)]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["static"] = static_address
    made.globals["path_of"] = path_of
    made.filters["picture"] = markup  # an SVG of the reports: everything typed in it was escaped there
    made.filters["unbroken"] = unbroken
    return made


def static_address(name: str) -> str:
    """Where a file of the pages is served; it changes with them, so that browsers may keep it."""
    return f"/static/{_digest()}/{name}"


@cache
def static_files() -> Mapping[str, bytes]:
    """The style sheets, scripts and the icon by name."""
    found = {file.name: file.read_bytes() for file in (files("plaitlog.service.pages") / "static").iterdir()}
    return {**found, CHARTS: (files("plaitlog.service.reports") / CHARTS).read_bytes()}


@cache
def _digest() -> str:
    # Of all files together: a script names those it imports by their place beside it.
    digest = hashlib.sha256()
    for _, content in sorted(static_files().items()):
        digest.update(content)
    return digest.hexdigest()[:12]
