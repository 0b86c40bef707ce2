"""What one more fact would buy is what it then really buys."""

import re
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plaitlog.models.calibration.observations import Query
from plaitlog.models.stack import stack_at
from plaitlog.models.whip import Reading, TurnLength, Weight, Whip
from plaitlog.service.usecases.missing.fact_worth import turned_out
from plaitlog.service.usecases.missing.usability import is_rough, usability
from plaitlog.service.usecases.missing.what_is_missing import WhatIsMissing, what_is_missing
from plaitlog.service.usecases.missing.worth import Worth
from plaitlog.service.usecases.observing import observe
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.predicting import InForce
from tests.usecases.holed_whips import (
    CORDS,
    CORE,
    INCHES,
    MILLIMETRES,
    OVERLAY,
    PRIORS,
    READINGS,
    having,
    layer,
    with_overlay,
)
from tests.usecases.nouns import Workshop, workshops

EQUIPPED = {"turn_lengths": (TurnLength(400.0, 60.0),), "weights": (Weight(300.0),)}


def told(whip: Whip) -> WhatIsMissing:
    return what_is_missing(PRIORS, whip, CORDS)


def worth_of(whip: Whip, *keys: str) -> Worth:
    return next(x for x in told(whip).worth if tuple(fact.key for fact in x.facts) == keys)


def half_width_mm(whip: Whip, at_mm: float) -> float:
    query = Query(stack=stack_at(whip, at_mm, CORDS), maker=whip.maker, at_mm=at_mm)
    (told,) = PRIORS.predict([query])
    return (told.high_90_mm - told.low_90_mm) / 2


def test_a_whip_without_holes_has_nothing_left_to_buy() -> None:
    stations = [1600.0 * k / 8 for k in range(9)]
    whole = having(readings=tuple(Reading(at_mm=at, diameter_mm=10.0) for at in stations), **EQUIPPED)
    assert list(told(whole).lines(INCHES)) == [
        "usable for: fit 9 of 9 readings, taper yes, handling yes",
    ]


@settings(max_examples=15, deadline=None)
@given(st.integers(200, 900), st.integers(60, 600))
def test_an_exact_place_narrows_as_promised(low: int, span: int) -> None:
    """The place looked up, at each of five stations along its span: the mean of what is then predicted."""
    vague = with_overlay(f"mm: 16B; {low}..{low + span}: -6 cut; p")
    worth = worth_of(vague, "place:2.1")
    places = [low + span * (k + 0.5) / 5 for k in range(5)]
    noted = [with_overlay(f"mm: 16B; {at:g}: -6 cut; p") for at in places]
    for promised in worth.places:
        assert promised.before_mm == pytest.approx(half_width_mm(vague, promised.at_mm))
        assert promised.after_mm == pytest.approx(
            sum(half_width_mm(each, promised.at_mm) for each in noted) / 5
        )
    assert {low + span / 2} <= {promised.at_mm for promised in worth.places}


def test_a_wide_place_is_told_with_its_figures() -> None:
    whip = with_overlay("mm: 20B; 600..1000: -14 cut; p", **EQUIPPED)
    worth = worth_of(whip, "place:2.1")
    most, moved = worth.most_narrowed, worth.most_shifted
    assert most is not None
    assert moved is not None
    assert most.before_mm == pytest.approx(half_width_mm(whip, most.at_mm))
    line = next(x for x in told(whip).lines(MILLIMETRES) if "falls from 20 to 6 strands" in x)
    assert f"90 % at {most.at_mm:g} mm from ± {most.before_mm:.1f} to ± {most.after_mm:.1f} mm" in line
    assert f"moves the figure at {moved.at_mm:g} mm by up to {moved.shift_mm:.1f} mm" in line
    assert "1 reading no longer rough" in line


OPEN = having(layers=(CORE, layer("overlay", "mm: 16B; 500: -2 cut; ?")), status=None, layers_complete=True)


def test_the_count_at_the_point_frees_the_readings_before_it_too() -> None:
    worth = worth_of(OPEN, "count:2@point")
    assert [(x.number, x.roughly) for x in worth.freed] == [(1, True), (2, False)]
    noted = replace(OPEN, layers=(CORE, layer("overlay", "mm: 16B; 500: -2 cut; 500..1600: =8; p")))
    assert [is_rough(x.stack) for x in observe(placed(noted), CORDS)[0]] == [False, True, False]
    line = next(x for x in told(OPEN).lines(INCHES) if "count at the point:" in x)
    assert re.search(
        r"the overlay's count at the point: the readings at the middle \(roughly, 90 % ± \d\.\d mm\) and "
        r"at the point \(90 % ± \d\.\d mm\) become usable",
        line,
    )
    assert told(OPEN).worth[0] == worth


def test_the_width_promised_for_a_freed_reading_is_that_of_the_counts_it_may_have() -> None:
    (freed,) = [x for x in worth_of(OPEN, "count:2@point").freed if x.number == 2]
    noted = [
        replace(OPEN, layers=(CORE, layer("overlay", f"mm: 16B; 500: -2 cut; 500..1600: ={n}; p")))
        for n in (4, 6, 8, 12, 14)
    ]
    assert freed.half_width_mm == pytest.approx(sum(half_width_mm(x, 1600.0) for x in noted) / 5)


def test_facts_that_are_wanted_together_are_told_together() -> None:
    whip = replace(OPEN, layers_complete=None)
    both = worth_of(whip, "layers_complete", "count:2@point")
    alone = worth_of(whip, "layers_complete")
    assert [x.number for x in both.freed] == [0, 1, 2]
    assert [x.number for x in alone.freed] == [0]
    assert "whether these are all the layers and the overlay's count at the point: " in both.words(INCHES)


def test_where_a_core_ends_closes_the_record_of_a_finished_whip() -> None:
    """With a status and every layer known to its end nobody need say that these are all the layers."""
    whip = having(layers=(layer("core", "mm: 6A; 300: -1 cut; ?"), OVERLAY))
    worth = worth_of(whip, "end:1")
    assert [x.number for x in worth.freed] == [0, 1, 2]
    closed = replace(whip, layers=(layer("core", "mm: 6A; 300: -1; 600: end"), OVERLAY))
    assert len(observe(placed(closed), CORDS)[0]) == 3


def test_the_fate_of_dropped_strands_moves_the_figure() -> None:
    whip = with_overlay("mm: 16B; 600: -6; p", **EQUIPPED)
    (shifted,) = [x for x in worth_of(whip, "fate:2").places if x.at_mm == 600.0]
    ends = [with_overlay(f"mm: 16B; 600: -6 {fate}; p") for fate in ("cut", "run")]
    sizes = [
        PRIORS.predict([Query(stack=stack_at(x, 600.0, CORDS), maker="Orrin", at_mm=600.0)])[0].diameter_mm
        for x in ends
    ]
    assert shifted.shift_mm == pytest.approx((sizes[1] - sizes[0]) / 2)
    line = next(x for x in told(whip).lines(MILLIMETRES) if "became of the overlay's dropped strands" in x)
    assert "moves the figure at " in line


def test_a_rating_buys_handling_where_there_is_a_taper() -> None:
    assert worth_of(having(ratings=()), "rating").handling == (False, True)
    thin = having(ratings=(), readings=READINGS[:1])
    assert all("rating" not in {fact.key for fact in x.facts} for x in told(thin).worth)
    assert "a rating session with a score" in list(told(thin).lines(INCHES))[-1]
    assert not any("rating" in x for x in told(having(ratings=(), status="on the bench")).lines(INCHES))


def test_a_reading_makes_a_taper_and_with_a_score_handling() -> None:
    worth = worth_of(having(readings=READINGS[:2]), "reading:point")
    assert (worth.taper, worth.handling) == (("no", "roughly"), (False, True))
    more = having(readings=READINGS)
    assert (told(more).usable.taper, told(more).usable.handling) == ("roughly", True)


def test_a_reading_narrows_the_rest_of_the_whip_as_promised() -> None:
    whip = having(readings=())
    worth = worth_of(whip, "reading:mid")
    assert worth.mean is not None
    assert worth.mean.before_mm is not None
    taken = observe(placed(having(readings=READINGS[1:2])), CORDS)[0]
    query = Query(stack=taken[0].stack, maker="Orrin", at_mm=800.0)
    expected = PRIORS.predict([query])[0].diameter_mm
    stations = [1600.0 * k / 8 for k in range(9)]
    asked = [
        Query(
            stack=stack_at(whip, at, CORDS),
            maker="Orrin",
            at_mm=at,
            readings=(replace(taken[0], diameter_mm=expected),),
        )
        for at in stations
    ]
    halves = [(p.high_90_mm - p.low_90_mm) / 2 for p in PRIORS.predict(asked)]
    assert worth.mean.after_mm == pytest.approx(sum(halves) / 9)
    assert worth.mean.after_mm < 0.8 * worth.mean.before_mm


def test_a_turn_length_says_what_it_sets_and_what_it_moves() -> None:
    whip = having(layers=(layer("core", "mm: 6A; 900: end cut"), OVERLAY), weights=EQUIPPED["weights"])
    worth = worth_of(whip, "turn_length")
    assert re.search(
        r"moves the figure at .* by up to \d\.\d mm; .* sets the angle of its plait, in a fit",
        worth.words(INCHES),
    )
    assert told(whip).worth[-1] == worth  # it comes last


def test_the_weight_says_what_geometry_expects() -> None:
    line = worth_of(having(turn_lengths=EQUIPPED["turn_lengths"]), "weight").words(INCHES)
    (grams,) = re.findall(r"about (\d+) g", line)
    # Six to none of 7.2 g/m over 0.7 m, and 16, 12, 8 of 4 g/m: straight strands, and a fifth more.
    straight = 6 * 7.2 * 0.7 + 4 * (16 * 0.9 + 12 * 0.4 + 8 * 0.3)
    assert straight < int(grams) < 1.4 * straight


def test_a_maker_narrows_what_a_fit_to_makers_predicts() -> None:
    known = InForce(replace(PRIORS.calibration, makers={"Orrin": 100, "Tamsin": 80}), 1)
    found = what_is_missing(known, having(maker=None, **EQUIPPED), CORDS)
    assert all("maker" in {f.key for f in x.facts} or x.facts for x in found.worth)
    assert "who made it" in "\n".join(found.lines(INCHES))


def test_nothing_known_at_all() -> None:
    lines = list(told(Whip(label="?")).lines(INCHES))
    assert lines[0] == "usable for: fit no, taper no, handling no"
    assert "its layers, with their strands and cords" in lines[-1]
    assert any("taper roughly instead of no" in x for x in lines)


def promised(whip: Whip, found: Sequence[Worth]) -> None:
    """Every way the facts may turn out frees the readings named, and no others that no fit could use."""
    before = {k for k, x in enumerate(usability(PRIORS, whip, CORDS_OF).readings) if x.use != "no"}
    for worth in found:
        if all(fact.key.startswith(("reading", "rating", "turn", "weight")) for fact in worth.facts):
            continue
        for after in turned_out(whip, worth.facts, CORDS_OF):
            uses = usability(PRIORS, after, CORDS_OF).readings
            usable = {k for k, x in enumerate(uses) if x.use != "no"}
            assert {x.number for x in worth.freed} <= usable - before
            assert all(uses[k].use == "yes" for k in worth.sharpened)


CORDS_OF = dict(CORDS)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(workshops())
def test_whatever_is_recorded_promises_are_kept(workshop: Workshop) -> None:
    CORDS_OF.update({cord.name: cord for cord in workshop.cords})
    for whip in workshop.whips:
        found = what_is_missing(PRIORS, whip, CORDS_OF)
        promised(whip, found.worth)
        for shown in (INCHES, MILLIMETRES):
            assert all(line and "None" not in line for line in found.lines(shown))
        assert all(re.search(r"\d|taper|handling", x.words(INCHES)) for x in found.worth)
