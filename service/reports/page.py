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
    style = _read("page.css")
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
        loader=FunctionLoader(_read),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["unbroken"] = _unbroken
    return made


def _unbroken(words: str) -> str:
    """Words in which no line ends between a number and its unit."""
    return words.replace(" %", "\u00a0%").replace(" mm", "\u00a0mm").replace("± ", "±\u00a0")


def _read(name: str) -> str:
    return (files("plaitlog.service.reports") / name).read_text("utf-8")
