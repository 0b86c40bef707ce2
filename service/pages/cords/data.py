"""A cord, and the list of cords, as data of their pages."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from sqlalchemy.orm import Session

from plaitlog.models import units
from plaitlog.models.errors import InputError
from plaitlog.models.whip import CONSTRUCTIONS, Cord
from plaitlog.service.pages.refusals import told
from plaitlog.service.preferences import preferences
from plaitlog.service.reports.cord_chart import ChartPoint, CordChart, over_text
from plaitlog.service.reports.cord_page_chart import readings_drawn, to_page_svg
from plaitlog.service.reports.shown import Shown
from plaitlog.service.usecases.changes.history import history
from plaitlog.service.usecases.cords.alike import beside, cords_like, learnt_of
from plaitlog.service.usecases.cords.editing import CORD_FIELDS, LOT_FIELDS, cord_texts, lot_texts
from plaitlog.service.usecases.cords.listed import CordInList, TypicalPlait, taught_by, whips_read
from plaitlog.service.usecases.cords.measures import LACKS, lacks
from plaitlog.service.usecases.cords.slips import doubts
from plaitlog.service.usecases.cords.whips_of_cord import whips_of_cord
from plaitlog.service.usecases.cords.worth import Gain, what_it_buys
from plaitlog.service.usecases.listing import list_stock, one_cord
from plaitlog.service.usecases.pictures.charting import cord_chart
from plaitlog.service.usecases.predicting import CAUTION, NO_FIT, InForce, fit_in_force
from plaitlog.service.usecases.reporting_fit import thin_in
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.wanted_stacks import maker_of_most
from plaitlog.service.usecases.workshop import cords_by_name

ORDERS: Final = (("", "by name"), ("unsure", "least sure first"), ("stock", "most in stock first"))
WHIPS_DRAWN: Final = 40
"""Readings of so many whips are drawn at most, evenly chosen, so that the page is there at once."""
LOTS: Final = 500
CHANGES: Final = 6
LABELS: Final = {
    "name": "Name",
    "material": "Material",
    "construction": "Construction",
    "diameter": "Calipers just touching",
    "pressed": "Calipers pressed shut",
    "flat_width": "Flat width of one strand",
    "linear_density": "Weight per metre",
    "fibre_density": "Density of the fibre",
    "supplier": "Supplier",
    "price_per_m": "Price of a metre",
    "notes": "Notes",
    "colour": "Colour",
    "lot": "Lot",
    "metres": "Metres",
}


def hands(in_force: InForce) -> str | None:
    """Whose plaits are predicted: the maker of this workbench where the fit knows that one, else that of most
    readings."""
    own = preferences().maker
    return own if own and own in in_force.calibration.makers else maker_of_most(in_force.calibration)


def list_data(found: Sequence[CordInList], in_force: InForce, q: str, order: str) -> dict[str, Any]:
    """The list, narrowed to what was searched for."""
    shown = preferences().shown
    wanted = [one for one in found if _matches(one, q)]
    if order == "unsure":
        wanted.sort(key=lambda one: -one.plait.half_share)
    elif order == "stock":
        wanted.sort(key=lambda one: -(one.there.metres or 0.0))
    return {
        "cords": [_line(one, shown) for one in wanted],
        "total": len(found),
        "q": q,
        "order": order,
        "orders": [list(one) for one in ORDERS],
        "diameters": shown.diameters,
        **resting(in_force),
    }


def resting(in_force: InForce) -> dict[str, Any]:
    """What every prediction on a page is to be read with."""
    return {
        "rests_on": _rests_on(in_force),
        "hands": hands(in_force),
        "caution": CAUTION,
        "fit_findings": [told(one) for one in in_force.findings],
    }


def _rests_on(in_force: InForce) -> str:
    """What every figure of a page rests on, as a sentence."""
    if in_force.number is None:
        return f"{NO_FIT.text[0].upper()}{NO_FIT.text[1:]}; {NO_FIT.remedy}."
    return f"Rests on {in_force.rests_on}."


def _matches(one: CordInList, q: str) -> bool:
    cord = one.there.cord
    texts = [cord.name, cord.material, cord.construction, cord.supplier, cord.notes]
    texts += [text for stock in one.there.stock for text in (stock.colour, stock.lot)]
    there = " ".join(filter(None, texts)).casefold()
    return all(word in there for word in q.casefold().split())


def _line(one: CordInList, shown: ShownUnits) -> dict[str, Any]:
    cord = one.there.cord
    return {
        "name": cord.name,
        "material": cord.material,
        "construction": cord.construction,
        "diameter": _size(cord.diameter_mm, shown),
        "pressed": _size(cord.pressed_mm, shown),
        "flat_width": _size(cord.flat_width_mm, shown),
        "g_per_m": _number(cord.linear_density_g_per_m, shown),
        "metres": _number(one.there.metres, shown),
        "readings": one.readings,
        "whips": one.whips,
        "thin": list(one.thin),
        **plait_data(one.plait, shown),
    }


def plait_data(plait: TypicalPlait, shown: ShownUnits) -> dict[str, Any]:
    """The typical plait of a cord and how sure it is."""
    now = plait.prediction
    return {
        "overlay": plait.overlay,
        "diameter_mm": now.diameter_mm,
        "plait": shown.diameter(now.diameter_mm),
        "low": shown.diameter(now.low_90_mm),
        "high": shown.diameter(now.high_90_mm),
        "interval": shown.interval(now.low_90_mm, now.high_90_mm),
        "half_mm": plait.half_mm,
        "half": shown.plus_minus(plait.half_mm),
        "percent": round(100 * plait.half_share),
    }


def cord_data(
    session: Session,
    name: str,
    over: str,
    typed: Mapping[str, str] | None = None,
    wrong: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """One cord; ``typed`` and ``wrong``: what stood in a form that was refused, and what is to be mended."""
    shown = preferences().shown
    stored = one_cord(session, name)
    in_force = fit_in_force(session)
    known = cords_by_name(session)
    cord = known[name]
    maker = hands(in_force)
    over_mm, over_error = _body(over, shown)
    chart = cord_chart(
        session,
        name,
        over_mm=over_mm,
        maker=maker,
        shown=shown,
        most_whips=WHIPS_DRAWN,
        in_force=in_force,
    )
    whips = whips_of_cord(session, name)
    texts = cord_texts(stored.record, shown)
    return {
        "name": name,
        "version": stored.version,
        "diameters": shown.diameters,
        "fields": [_field(key, "", texts, typed) for key in CORD_FIELDS],
        "constructions": list(CONSTRUCTIONS),
        "lots": _lots(session, name, shown, typed),
        "new_lot": [_field(key, "-new", {}, typed) for key in LOT_FIELDS],
        "errors": dict(wrong or {}),
        "open": "",
        "doubts": [told(one) for one in doubts(cord)],
        **_fit_data(session, in_force, cord, known, maker, shown),
        **_chart_data(chart, over, whips.total),
        "over_error": over_error,
        "whips": [
            {
                "label": whip.label,
                "maker": whip.maker or "",
                "type": whip.type or "",
                "status": whip.status or "",
                "layers": ", ".join(whip.roles),
                "readings": whip.readings,
            }
            for whip in whips.whips
        ],
        "whips_total": whips.total,
        "changes": [
            {
                "number": one.number,
                "day": one.created_at.date().isoformat(),
                "action": one.action,
                "words": [entry.words for entry in one.entries[:2]],
                "undone": one.undone,
            }
            for one in history(session, kind="cord", name=name, limit=CHANGES)
        ],
        **resting(in_force),
    }


def _field(
    key: str, ending: str, texts: Mapping[str, str], typed: Mapping[str, str] | None
) -> dict[str, str]:
    """One field of a form: what stands in it, and what is stored."""
    stored = texts.get(key, "")
    value = stored if typed is None else typed.get(f"{key}{ending}", stored)
    return {"key": key, "id": f"{key}{ending}", "label": LABELS[key], "value": value, "stored": stored}


def _lots(
    session: Session, name: str, shown: ShownUnits, typed: Mapping[str, str] | None
) -> list[dict[str, Any]]:
    found = []
    for lot in list_stock(session, LOTS, 0, cord=name).items:
        texts = lot_texts(lot.record, shown)
        fields = [_field(key, f"-{lot.key}", texts, typed) for key in LOT_FIELDS]
        found.append({"key": lot.key, "version": lot.version, "fields": fields, **texts})
    return found


def _fit_data(
    session: Session,
    in_force: InForce,
    cord: Cord,
    known: Mapping[str, Cord],
    maker: str | None,
    shown: ShownUnits,
) -> dict[str, Any]:
    bought = what_it_buys(in_force, cord, maker)
    plait = TypicalPlait(bought.overlay, bought.prediction)
    readings, counts = taught_by(in_force.calibration, cord.name)
    whips = whips_read(session, cord.name).get(cord.name, 0) if readings else 0
    learnt = learnt_of(in_force, cord, plait.overlay, maker)
    alike = beside(in_force, cords_like(cord, known.values()), plait.overlay, maker)
    return {
        **plait_data(plait, shown),
        "stack": f"core {bought.core}; overlay {bought.overlay}",
        "readings": readings,
        "whips_read": whips,
        "thin": list(thin_in(readings, whips, counts)),
        "learnt": None if learnt is None else learnt.words(shown),
        "beside": [
            {
                "name": one.cord.name,
                "plait": shown.diameter(one.prediction.diameter_mm),
                "interval": shown.interval(one.prediction.low_90_mm, one.prediction.high_90_mm),
                "readings": one.readings,
            }
            for one in alike
        ],
        "lacks": [_lack(gain) for gain in bought.gains],
        "lacking": [LACKS[key] for key in lacks(cord)],
    }


def _lack(gain: Gain) -> dict[str, Any]:
    return {"how": gain.how, "words": gain.words, "tells": gain.tells}


def _chart_data(chart: CordChart, over: str, whips: int) -> dict[str, Any]:
    cells = {(c.over_mm, point.strands): point for c in chart.curves for point in c.points}
    shown = chart.shown
    return {
        "over": over,
        "svg": to_page_svg(chart),
        "bodies": [over_text(curve.over_mm, shown) for curve in chart.curves],
        "rows": [
            {
                "strands": strands,
                "cells": [_cell(cells.get((curve.over_mm, strands)), shown) for curve in chart.curves],
            }
            for strands in sorted({strands for _, strands in cells})
        ],
        "readings_drawn": len(readings_drawn(chart)),
        "some_whips": WHIPS_DRAWN if whips > WHIPS_DRAWN else None,
        "badly": any(not point.lies_well for curve in chart.curves for point in curve.points),
        "test_plaits": any(one.mark == "test plait" for one in chart.readings),
        "chart_findings": [told(one) for one in chart.findings if one.code not in {"no-fit", "stale-fit"}],
    }


def _cell(point: ChartPoint | None, shown: Shown) -> dict[str, Any] | None:
    if point is None:
        return None
    return {
        "diameter": shown.diameter_number(point.diameter_mm),
        "interval": shown.interval(point.low_90_mm, point.high_90_mm),
        "well": point.lies_well,
    }


def _body(over: str, shown: ShownUnits) -> tuple[tuple[float, ...], dict[str, str] | None]:
    """The body that was asked for; none where nothing was typed, or it cannot be read."""
    text = over.strip()
    if not text:
        return (), None
    if text in {"0", "none", "nothing"}:
        return (0.0,), None
    try:
        return (units.parse_diameter(text, unit=shown.diameters),), None
    except InputError as error:
        return (), told(error.finding)


def _size(mm: float | None, shown: ShownUnits) -> str:
    return "" if mm is None else shown.number(f"{mm / 25.4:.3f}" if shown.diameters == "in" else f"{mm:.2f}")


def _number(value: float | None, shown: ShownUnits) -> str:
    return "" if value is None else shown.number(f"{value:.4g}")
