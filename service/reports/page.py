"""A page of HTML that needs nothing else: no script, no outside resource, its style inside and hashed."""

import base64
import hashlib
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jinja2 import Environment


def rendered(template: str, **values: Any) -> str:
    """The page of a template of this package; text among the values stays text, whatever it holds."""
    style = _read("charts.css") + _read("page.css")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    page = _environment().get_template(template)
    return page.render(style=markup(style), style_hash=markup(digest), **values)


def markup(text: str) -> Any:
    """Text that is HTML already, made by this package."""
    from markupsafe import Markup

    return Markup(text)


@cache
def _environment() -> "Environment":
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    made = Environment(
        loader=FunctionLoader(template_source),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["unbroken"] = unbroken
    made.filters["picture"] = markup
    return made


def template_source(name: str) -> str | None:
    """The template of this package with that name, None where there is none."""
    file = files("plaitlog.service.reports") / name
    return file.read_text("utf-8") if file.is_file() else None


def unbroken(words: str) -> str:
    """Words in which no line ends between a number and its unit."""
    return words.replace(" %", "\u00a0%").replace(" mm", "\u00a0mm").replace("± ", "±\u00a0")


def _read(name: str) -> str:
    return (files("plaitlog.service.reports") / name).read_text("utf-8")
