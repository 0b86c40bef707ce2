"""The list of whips: search, filters, chosen columns, a page at a time."""

from dataclasses import dataclass, replace
from typing import Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.datastructures import QueryParams

from plaitlog.service.database import reading
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.forms import Posted
from plaitlog.service.pages.rendering import go_to, page, path_of
from plaitlog.service.pages.whips.cells import COLUMNS, USUAL, cell, heading, named_in_order
from plaitlog.service.preferences import preferences, remember
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.whip_list import LATEST, NOT_NOTED, SORTED_BY, Wanted, WhipList, whip_list
from plaitlog.service.web_requests import Database

routes = APIRouter(include_in_schema=False)

ROWS: Final = 100
FILTERS: Final = ("text", "type", "maker", "cord", "status")
PAGES_AT_MOST: Final = 10_000_000


@dataclass(frozen=True, slots=True)
class Asked:
    """What an address of the list asks for: ``columns`` None where it names none; ``page`` counts from 1."""

    wanted: Wanted
    columns: tuple[str, ...] | None
    page: int = 1

    def address(self, **changes: Any) -> str:
        """The same list with something changed (a filter, ``sort``, ``descending`` or ``page``)."""
        number = changes.pop("page", 1)
        wanted = replace(self.wanted, **changes)
        parts = {name: getattr(wanted, name) for name in FILTERS}
        parts["sort"] = wanted.sort if wanted.sort != LATEST else ""
        parts["down"] = "yes" if wanted.descending else ""
        parts["columns"] = ",".join(self.columns or ())
        parts["page"] = str(number) if number > 1 else ""
        query = urlencode({name: value for name, value in parts.items() if value})
        return f"/whips?{query}" if query else "/whips"


@routes.get("/whips")
def whips(request: Request, database: Database) -> Response:
    asked = _asked(request.query_params)
    with reading(database) as session:
        found = whip_list(session, asked.wanted, ROWS, (asked.page - 1) * ROWS)
        if asked.page > 1 and not found.lines:
            asked = replace(asked, page=max(1, -(-found.matching // ROWS)))
            found = whip_list(session, asked.wanted, ROWS, (asked.page - 1) * ROWS)
        data = {**_list(asked, found), "banner": banner(request, session)}
    return page(request, "whips.html", data)


@routes.post("/whips/columns")
def keep_columns(form: Posted) -> Response:
    """Show the list as asked, and keep its columns for next time."""
    asked = _asked(QueryParams([(key, value) for key in form.texts() for value in form.all(key)]))
    remember(replace(preferences(), whip_columns=asked.columns))
    return go_to(asked.address())


def _asked(query: QueryParams) -> Asked:
    filters = {name: query.get(name, "").strip() for name in FILTERS}
    sort = query.get("sort", "")
    number = query.get("page", "")
    named = {one for part in query.getlist("columns") for one in part.split(",")}
    return Asked(
        Wanted(
            **filters,
            sort=sort if sort in SORTED_BY else LATEST,
            descending=query.get("down") == "yes",
        ),
        tuple(column for column in COLUMNS if column in named) or None,
        min(max(int(number), 1), PAGES_AT_MOST) if number.isdecimal() and len(number) < 12 else 1,
    )


def _list(asked: Asked, found: WhipList) -> dict[str, Any]:
    kept = preferences()
    shown = kept.shown
    wanted = asked.wanted
    chosen = asked.columns or tuple(one for one in COLUMNS if one in (kept.whip_columns or USUAL))
    first = (asked.page - 1) * ROWS + 1
    return {
        "of": found.of,
        "matching": found.matching,
        "first": first if found.lines else 0,
        "last": first + len(found.lines) - 1 if found.lines else 0,
        "asked": {name: getattr(wanted, name) for name in FILTERS},
        "sort": wanted.sort,
        "down": wanted.descending,
        "choices": {
            "type": _choices("any type", found.types),
            "maker": _choices("any maker", found.makers),
            "cord": _choices("any cord", found.cords),
            "status": _choices("any status", found.statuses),
            "sort": named_in_order(shown),
        },
        "columns": [{"key": key, "name": heading(key, shown), "shown": key in chosen} for key in COLUMNS],
        "heads": [_head(asked, key, shown) for key in ("label", *chosen)],
        "rows": [
            {
                "label": line.label,
                "address": path_of("whips", line.label),
                "cells": [cell(line, key, shown) for key in chosen],
            }
            for line in found.lines
        ],
        "taken_away": [
            {"words": f"{name} {value}", "address": asked.address(**{name: ""})}
            for name, value in ((name, getattr(wanted, name)) for name in FILTERS)
            if value
        ],
        "pages": _pages(asked, found.matching),
    }


def _choices(anything: str, names: Any) -> list[list[str]]:
    return [["", anything], *([name, name] for name in names), [NOT_NOTED, "not noted"]]


def _head(asked: Asked, key: str, shown: ShownUnits) -> dict[str, Any]:
    """The head of a column, and where it leads: the list in its order, or the other way round."""
    by_this = asked.wanted.sort == key
    down = asked.wanted.descending
    return {
        "name": heading(key, shown),
        "number": key in COLUMNS and COLUMNS[key].number,
        "address": asked.address(sort=key, descending=by_this and not down) if key in SORTED_BY else None,
        "sorted": ("descending" if down else "ascending") if by_this else "none",
    }


def _pages(asked: Asked, matching: int) -> dict[str, Any]:
    last = max(1, -(-matching // ROWS))
    return {
        "page": asked.page,
        "of": last,
        "earlier": asked.address(page=asked.page - 1) if asked.page > 1 else None,
        "later": asked.address(page=asked.page + 1) if asked.page < last else None,
        "first": asked.address() if asked.page > 2 else None,
        "last": asked.address(page=last) if asked.page < last - 1 else None,
    }
