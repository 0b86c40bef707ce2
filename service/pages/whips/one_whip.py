"""One whip on one page: its drawing, what is known of it, what it can be used for, what was changed."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from plaitlog.service.database import reading, write
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.forms import Posted
from plaitlog.service.pages.refusals import told
from plaitlog.service.pages.rendering import go_to, page, part
from plaitlog.service.pages.whips.parts import (
    beside_its_plan,
    drawn_whip,
    in_other_cord,
    latest_changes,
    more_of,
    photos_of,
    rated,
    read_beside_expected,
    usable_for,
)
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.changes.editing import remove_whip
from plaitlog.service.usecases.predicting import CAUTION, fit_in_force
from plaitlog.service.usecases.turn_angles import turn_angles
from plaitlog.service.usecases.whip_facts import facts, in_brief, layer_rows
from plaitlog.service.usecases.workshop import cords_by_name, whip_with_version
from plaitlog.service.web_requests import Database, Name

routes = APIRouter(include_in_schema=False)


@routes.get("/whips/{label:name}")
def whip(
    request: Request,
    database: Database,
    label: Name,
    more: str = "",
    other: str = "",
    instead: str = "",
) -> Response:
    """The whip; with ``more`` also what takes longer to work out ("part": that alone, for the script), with
    ``other`` the same whip in another cord."""
    shown = preferences().shown
    with reading(database) as session:
        version, found = whip_with_version(session, label)
        cords = cords_by_name(session)
        in_force = fit_in_force(session)
        if more == "part":
            return part(
                "_whip_more.html", {"more": more_of(in_force, found, cords, shown), "caution": CAUTION}
            )
        changes = latest_changes(session, label)
        photos = photos_of(session, label)
        done = banner(request, session)
    data: dict[str, Any] = {
        "banner": done,
        "label": found.label,
        "version": version,
        "brief": in_brief(found),
        "status": found.status,
        "facts": [list(pair) for pair in facts(found, shown)],
        "notes": found.notes or "",
        "layers": layer_rows(found, shown),
        "layers_complete": found.layers_complete,
        "drawing": drawn_whip(in_force, found, cords, shown),
        "readings": read_beside_expected(in_force, found, cords, shown),
        "turns": [turn.words(shown) for turn in turn_angles(in_force, found, cords)],
        "ratings": rated(found),
        "beside": beside_its_plan(in_force, found, cords, shown),
        "other_cord": in_other_cord(in_force, found, cords, shown, other, instead),
        "rests_on": in_force.rests_on,
        "caution": CAUTION,
        "stale": [told(finding) for finding in in_force.findings],
        "usable": usable_for(in_force, found, cords, shown),
        "more": more_of(in_force, found, cords, shown) if more else None,
        "photos": photos,
        "changes": changes,
    }
    return page(request, "whip.html", data)


@routes.post("/whips/{label:name}")
def remove(database: Database, label: Name, form: Posted) -> Response:
    """Remove the whip, if it is still as it was shown."""
    done = write(database, lambda session: remove_whip(session, label, version=form.number("version")))
    return go_to(f"/whips?change={done.number}")
