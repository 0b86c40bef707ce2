"""What a run of measuring is to be, from what was typed; and what is proposed for a whip."""

from collections.abc import Mapping
from typing import Final

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.whip import CONDITIONS, ON_THE_BENCH, Whip
from plaitlog.service.usecases.measuring.runs import Run, Setup
from plaitlog.service.usecases.measuring.stations import stations_every, stations_listed
from plaitlog.service.usecases.shown_units import ShownUnits

EVERY: Final = {"in": "6 in", "ft": "6 in", "mm": "150 mm", "cm": "15 cm", "m": "150 mm"}
"""Between two stations where nothing else is said (own choice: half a foot)."""
FINISHED: Final = "finished"
FRESH: Final = "fresh"
"""As what was just plaited is taken to be measured (own choice; it can be said otherwise)."""


def proposed(whip: Whip, shown: ShownUnits, last: Run | None) -> dict[str, str]:
    """What is proposed, as text by field: as in the last run, and the layer that is likely on the bench."""
    before = None if last is None else last.setup
    return {
        "every": EVERY[shown.lengths],
        "list": "",
        "on": on_bench_now(whip),
        "condition": (before.condition if before else FRESH if whip.status == ON_THE_BENCH else None) or "",
        "each": str(before.each if before else 1),
        "from": "point" if before and before.from_point else "handle",
    }


def on_bench_now(whip: Whip) -> str:
    """The layer that a whip under construction was measured on last, else the innermost; else finished."""
    if whip.status != ON_THE_BENCH or not whip.layers:
        return FINISHED
    measured = [one.after_layer or len(whip.layers) for one in whip.readings]
    return layer_key(whip, max(measured, default=1))


def layer_key(whip: Whip, place: int) -> str:
    return FINISHED if place >= len(whip.layers) else str(place)


def setup_typed(whip: Whip, typed: Mapping[str, str], shown: ShownUnits) -> Setup:
    """The run that is asked for.

    Raises
    ------
    InputError
        With the field that is to be mended.
    """
    on = typed.get("on", FINISHED)
    layers = [str(place) for place in range(1, len(whip.layers))]
    if on not in (*layers, FINISHED):
        raise InputError(Finding("layer", f"there is no layer {on!r}", "choose one of the list", "on"))
    after_layer = None if on == FINISHED else int(on)
    if typed.get("list", "").strip():
        stations = stations_listed(whip, after_layer, typed["list"], shown)
    else:
        stations = stations_every(whip, after_layer, typed.get("every", ""), shown)
    return Setup(
        stations=stations.places,
        after_layer=after_layer,
        condition=next((one for one in CONDITIONS if one == typed.get("condition")), None),
        each=2 if typed.get("each") == "2" else 1,
        from_point=typed.get("from") == "point",
        left_out=stations.left_out,
    )
