"""Where a plan misses its target it says why, in the reader's own units."""

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from plaitlog.models.planning.asked import CUT, Asked, AskedLayer, Rules, Target
from plaitlog.models.whip import Fate, Whip
from plaitlog.service.usecases.planning.miss_words import as_data, as_findings, on_sheet
from plaitlog.service.usecases.planning.misses import BluntEnd, OffCover, OffTarget, Reason, Why
from plaitlog.service.usecases.planning.plan import Plan, make_plan
from plaitlog.service.usecases.shown_units import ShownUnits
from tests.planning.drawn_plans import CORDS, IN_FORCE

BECK, RIDGE = CORDS["Beck 2.5 mm"], CORDS["Ridge 4 mm"]


def overlay(**facts: Any) -> AskedLayer:
    return AskedLayer(**{"role": "overlay", "cord": BECK, "fate": CUT, **facts})


def planned(thick: float, point: float, *layers: AskedLayer, **rules: Any) -> Plan:
    """A metre on a grid of 20 mm, straight in the diameter squared."""
    target = Target(diameter_mm=np.sqrt(np.linspace(thick**2, point**2, 51)))
    asked = Asked(
        length_mm=1000.0, layers=layers, target=target, cords=CORDS, rules=Rules(grid_mm=20.0, **rules)
    )
    whip = Whip(
        label="next", maker="Orrin", status="planned", datum="handle end", thong_length_mm=1000.0,
        handle_length_mm=0,
    )  # fmt: skip
    return make_plan(IN_FORCE, whip, asked, CORDS)


def reasons(plan: Plan) -> list[tuple[bool, Reason]]:
    """By stretch whether it is too thick, and why."""
    return [(one.thick, one.reason) for one in plan.misses if isinstance(one, OffTarget)]


def test_every_station_off_by_more_than_half_a_millimetre_is_named_and_no_other() -> None:
    plan = planned(16, 4, overlay(cord=RIDGE))
    named = [one for one in plan.misses if isinstance(one, OffTarget)]
    assert named
    for one in plan.stations:
        off = one.diameter_mm - one.target_mm
        inside = [miss for miss in named if miss.from_mm <= one.at_mm <= miss.to_mm]
        assert bool(inside) == (abs(off) > 0.5)
        if inside:
            assert inside[0].thick == (off > 0)
            assert abs(off) <= abs(inside[0].diameter_mm - inside[0].wanted_mm) + 1e-9


def test_a_point_that_is_too_fine_for_the_fewest_strands() -> None:
    *_, last = reasons(planned(10, 3, overlay(cord=RIDGE)))
    assert last == (True, Reason(Why.FEWEST, "overlay", strands=4))


def test_a_thick_end_that_is_too_thick_for_the_most_strands() -> None:
    first, *_ = reasons(planned(20, 8, overlay(), cover=(0.0, 9.0)))
    assert first == (False, Reason(Why.MOST, "overlay", strands=24))


def test_a_layer_that_is_to_run_further_than_the_taper_bears() -> None:
    core = AskedLayer(role="core", cord=RIDGE, ends=900.0)
    found = reasons(planned(14, 5, core, overlay(), cover=(0.0, 9.0), core_counts=(3, 9)))
    assert (True, Reason(Why.LAYER_END, "core", mm=900.0)) in found


def test_a_taper_that_asks_for_more_drops_than_their_distance_allows() -> None:
    found = reasons(planned(14, 5, overlay(start=24, fate=Fate("tuck", 200.0))))
    assert Reason(Why.SPACING, "overlay", mm=200.0) in [reason for _, reason in found]


def test_a_plait_that_the_rule_for_its_cover_keeps_broad() -> None:
    core = AskedLayer(role="core", cord=RIDGE, start=4, ends="point")
    found = reasons(planned(14, 6, core, overlay()))
    assert {reason.why for _, reason in found} & {Why.COVER}


def test_a_core_that_has_no_room_to_go_singly_ends_bluntly_and_says_so() -> None:
    core = AskedLayer(role="core", cord=BECK, start=8, ends=60.0)
    plan = planned(14, 6, core, overlay())
    assert [(round(x.total.mid), x.place.mid_mm) for x in plan.whip.layers[0].schedule.steps] == [  # type: ignore[union-attr]
        (8, 0.0),
        (7, 20.0),
        (6, 40.0),
        (0, 60.0),
    ]
    (blunt,) = [one for one in plan.misses if isinstance(one, BluntEnd)]
    assert str(as_findings([blunt], ShownUnits("in", "mm"))[0]) == (
        "2 1/2 in: 6 strands of the core (layer 1) end at once, the rule is singly; "
        "begin with fewer, or let it end further on"
    )
    room = planned(14, 6, AskedLayer(role="core", cord=BECK, start=8, ends=200.0), overlay())
    assert not [one for one in room.misses if isinstance(one, BluntEnd)]


MISS = OffTarget(
    from_mm=1016.0, to_mm=1066.8, at_mm=1066.8, wanted_mm=5.5, diameter_mm=6.25,
    reason=Reason(Why.LAYER_END, "belly", mm=1143.0),
)  # fmt: skip
GAPS = OffCover(from_mm=508.0, to_mm=508.0, at_mm=508.0, slot=2, role="belly", cover=0.64, rule=(0.7, 1.05))


@pytest.mark.parametrize(
    ("shown", "said"),
    [
        (
            ShownUnits("in", "mm"),
            "40 to 42 in: 0.8 mm too thick at 42 in, where 5.5 mm is wanted: the belly is to run to 45 in; "
            "end it earlier, leave its end open, or allow a lower cover under rules",
        ),
        (
            ShownUnits("in", "in"),
            "40 to 42 in: 0.030 in too thick at 42 in, where 0.217 in is wanted: the belly is to run to "
            "45 in; end it earlier, leave its end open, or allow a lower cover under rules",
        ),
        (
            ShownUnits("mm", "mm"),
            "1020 to 1070 mm: 0.8 mm too thick at 1070 mm, where 5.5 mm is wanted: the belly is to run to "
            "1140 mm; end it earlier, leave its end open, or allow a lower cover under rules",
        ),
    ],
)
def test_a_miss_is_told_in_the_readers_units(shown: ShownUnits, said: str) -> None:
    assert str(as_findings([MISS], shown)[0]) == said


def test_a_single_station_is_one_place_and_gaps_are_told_by_layer() -> None:
    (found,) = as_findings([GAPS], ShownUnits("in", "mm"))
    assert str(found) == (
        "20 in: gaps show in the belly (layer 2): cover 0.64, the rule is 0.7 to 1.05; "
        "more strands or a thicker cord"
    )
    assert list(on_sheet([MISS, GAPS], ShownUnits("in", "mm"))) == [
        "Off the target, 40 to 42 in: up to 0.8 mm too thick: the belly is to run to 45 in.",
        "Off the cover, 20 in: gaps show in the belly (layer 2): cover 0.64, the rule is 0.7 to 1.05.",
    ]


def test_stretches_that_are_off_for_the_same_reason_are_told_once_by_the_worst() -> None:
    gaps = replace(MISS, reason=Reason(Why.COVER, "overlay"))
    worse = replace(gaps, from_mm=1270.0, to_mm=1270.0, at_mm=1270.0, wanted_mm=5.0)
    thin = replace(gaps, from_mm=1397.0, to_mm=1422.4, at_mm=1397.0, wanted_mm=7.0)
    shown = ShownUnits("in", "mm")
    found = as_findings([gaps, worse, thin], shown)
    assert [one.where for one in found] == ["40 to 42, 50 in", "55 to 56 in"]
    assert found[0].text.startswith("1.2 mm too thick at 50 in, where 5.0 mm is wanted: ")
    assert list(on_sheet([gaps, worse, thin], shown)) == [
        "Off the target, 40 to 42, 50 in: up to 1.2 mm too thick: "
        "with a pair fewer the overlay would show gaps.",
        "Off the target, 55 to 56 in: up to 0.8 mm too thin: with a pair more the overlay would bunch.",
    ]


@pytest.mark.parametrize("why", list(Why))
@pytest.mark.parametrize("diameter", [5.0, 7.0])
def test_every_reason_has_words_and_a_remedy(why: Why, diameter: float) -> None:
    miss = OffTarget(
        from_mm=0.0, to_mm=20.0, at_mm=0.0, wanted_mm=6.0, diameter_mm=diameter,
        reason=Reason(why, "core", strands=4, mm=50.8),
    )  # fmt: skip
    (found,) = as_findings([miss], ShownUnits("in", "in"))
    assert bool(found.remedy) == (why is not Why.DONE), "what is done cannot be mended"
    assert not re.search(r"mm|None", str(found))
    assert as_data(miss)["why"] == why.value
