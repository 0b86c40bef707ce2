"""What is predicted of a new cord, as data of its page: figures in the viewer's units, one sentence each."""

from typing import Any, Final
from urllib.parse import urlencode

from plaitlog.models.calibration.prediction import Prediction
from plaitlog.models.calibration.remarks import HIGH_COVER, LOW_COVER
from plaitlog.service.pages.cords.data import plait_data
from plaitlog.service.pages.refusals import told
from plaitlog.service.reports.cord_chart import over_text
from plaitlog.service.reports.cord_page_chart import to_page_svg
from plaitlog.service.usecases.cords.alike import SEEN_MM
from plaitlog.service.usecases.cords.new_cord import Buys, Told, Tried
from plaitlog.service.usecases.cords.steps import ORDER, Steps
from plaitlog.service.usecases.cords.worth import LEAST_NARROWER
from plaitlog.service.usecases.shown_units import ShownUnits

HOW: Final = {
    "linear_density_g_per_m": "Weigh 10 m",
    "flat_width_mm": "Ten side by side",
    "diameter_mm": "Calipers just touching",
    "pressed_mm": "Calipers pressed shut",
}


DONE: Final = {
    "diameter_mm": "calipers just touching",
    "linear_density_g_per_m": "and weighed",
    "flat_width_mm": "and ten side by side",
    "pressed_mm": "and calipers pressed shut",
}


def told_data(found: Tried, shown: ShownUnits) -> dict[str, Any]:
    """Everything that the part of the page shows which changes while one types."""
    return {
        "wrong": {key: told(one) for key, one in found.errors.items()},
        "slips": [told(one) for one in found.slips],
        "put_right": {"fields": urlencode(found.put_right), "words": ", ".join(found.put_right.values())},
        "remarks": [told(one) for one in found.remarks],
        "told": None if found.told is None else _figures(found.told, shown),
        "measured": {
            "g_per_m": _number(found.cord.linear_density_g_per_m, shown),
            "flat_width": _hundredth(found.cord.flat_width_mm, shown),
        },
    }


def _figures(found: Told, shown: ShownUnits) -> dict[str, Any]:
    curve = found.chart.curves[0]
    return {
        **plait_data(found.plait, shown),
        "buys": [_bought(one, shown) for one in found.buys],
        "stacks": [
            {"words": one.words, "notation": one.notation, **_sizes(one.prediction, shown)}
            for one in found.stacks
        ],
        "over": over_text(curve.over_mm, shown),
        "counts": [
            {
                "strands": point.strands,
                "diameter": shown.diameter(point.diameter_mm),
                "interval": shown.interval(point.low_90_mm, point.high_90_mm),
                "lies": _lies(point.cover),
            }
            for point in curve.points
        ],
        "svg": to_page_svg(found.chart),
        "beside": [
            {"name": one.cord.name, "readings": one.readings, **_sizes(one.prediction, shown)}
            for one in found.beside
        ],
    }


def _sizes(one: Prediction, shown: ShownUnits) -> dict[str, str]:
    return {
        "diameter": shown.diameter(one.diameter_mm),
        "interval": shown.interval(one.low_90_mm, one.high_90_mm),
    }


def _lies(cover: float | None) -> str:
    if cover is None or LOW_COVER <= cover <= HIGH_COVER:
        return ""
    return "gaps show" if cover < LOW_COVER else "strands bunch"


def _bought(one: Buys, shown: ShownUnits) -> dict[str, Any]:
    without, with_it = shown.plus_minus(one.without_mm), shown.plus_minus(one.with_mm)
    narrows = f"{without} {'became' if one.given else 'would become'} {with_it}"
    moved = f"{shown.diameter(one.moves_mm)}"
    moves = f"it moved the figure by {moved}" if one.given else f"it may move the figure by {moved}"
    words = [narrows] if one.narrower >= LEAST_NARROWER else []
    words += [moves] if one.moves_mm >= SEEN_MM else []
    return {
        "key": one.key,
        "how": HOW[one.key],
        "given": one.given,
        "without_mm": one.without_mm,
        "with_mm": one.with_mm,
        "percent": max(0, round(100 * one.narrower)),
        "words": "; ".join(words) or ("it changed little" if one.given else "it would change little"),
    }


def steps_data(steps: Steps, shown: ShownUnits) -> dict[str, Any]:
    """What measuring a known cord would have bought, step by step."""
    each = zip(ORDER, steps.measured, strict=True)
    return {
        "name": steps.cord.name,
        "steps": [{"how": DONE[key], **plait_data(plait, shown)} for key, plait in each],
        "readings": steps.readings,
        "learnt": plait_data(steps.learnt, shown),
    }


def _number(value: float | None, shown: ShownUnits) -> str:
    return "" if value is None else shown.number(f"{value:.3g}")


def _hundredth(mm: float | None, shown: ShownUnits) -> str:
    if mm is None:
        return ""
    return shown.number(f"{mm / 25.4:.3f} in" if shown.diameters == "in" else f"{mm:.2f} mm")
