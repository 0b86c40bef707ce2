"""What a record can be used for: one whip with each kind of hole, and what the line must then say."""

from collections.abc import Sequence
from dataclasses import replace

import pytest

from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.observations import Query
from plaitlog.models.whip import RatingSession, Reading, Whip
from plaitlog.service.usecases.missing.usability import Usability, usability
from plaitlog.service.usecases.observing import observe
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.predicting import InForce
from tests.usecases.holed_whips import (
    CORDS,
    CORE,
    INCHES,
    MILLIMETRES,
    OVERLAY,
    POINT_MM,
    PRIORS,
    RATED,
    READINGS,
    SOUND,
    having,
    layer,
    with_overlay,
)

FIT_3 = "fit 3 of 3 readings"
BY_THREE = "taper roughly, handling yes"


def told(whip: Whip, in_force: InForce = PRIORS) -> Usability:
    return usability(in_force, whip, CORDS)


HOLES: Sequence[tuple[str, Whip, str, str]] = [
    ("nothing", SOUND, f"{FIT_3}, {BY_THREE}", "taper: 3 of 9 stations are known to ± 5 % or better"),
    (
        "a place between",
        with_overlay("mm: 16B; 700..1000: -4 cut; 1300: -4; p"),
        f"{FIT_3} (1 roughly), {BY_THREE}",
        "",
    ),
    (
        "an overlay noted to its first drop",
        having(layers=(CORE, layer("overlay", "mm: 16B; 500: -2 cut; ?")), layers_complete=True),
        f"fit 1 of 3 readings, {BY_THREE}",
        "fit: the reading at the point wants the overlay's count at the point",
    ),
    (
        "a core whose end is not noted",
        having(layers=(layer("core", "mm: 6A; 300: -1 cut; ?"), OVERLAY), layers_complete=True),
        f"fit 1 of 3 readings, {BY_THREE}",
        "fit: the readings at the middle and at the point want where the core ends",
    ),
    (
        "layers that may not be all",
        having(status=None),
        f"fit 0 of 3 readings, {BY_THREE}",
        "at the point want whether these are all the layers",
    ),
    (
        "strands",
        having(layers=(replace(CORE, schedule=None), OVERLAY), layers_complete=True),
        f"fit 0 of 3 readings, {BY_THREE}",
        "want the strands of the core",
    ),
    (
        "a cord",
        having(layers=(CORE, layer("overlay", "mm: 16; p"))),
        f"fit 0 of 3 readings, {BY_THREE}",
        "want the cord of the overlay",
    ),
    (
        "a cord and an end",
        having(
            layers=(layer("core", "mm: 6; 300: -1 cut; ?"), OVERLAY),
            layers_complete=True,
            readings=READINGS[1:],
        ),
        "fit 0 of 2 readings, taper no, handling no",
        "want the cord of the core and where the core ends",
    ),
    (
        "layers altogether",
        having(layers=()),
        f"fit 0 of 3 readings, {BY_THREE}",
        "want its layers, with their strands and cords",
    ),
    (
        "the thong length",
        having(thong_length_mm=None, readings=tuple(replace(x, at_mm=None) for x in READINGS)),
        f"fit 1 of 3 readings, {BY_THREE}",
        "fit: the readings at the middle and at the point want the thong length",
    ),
    (
        "the handle length, counted from the butt",
        having(datum="butt", readings=tuple(replace(x, at_mm=None) for x in READINGS)),
        f"fit 0 of 3 readings, {BY_THREE}",
        "want the handle length",
    ),
    (
        "readings",
        having(readings=()),
        "fit no, taper no, handling no",
        "fit: nothing was measured",
    ),
    (
        "scores",
        having(ratings=(RatingSession(scores={"ease": "not tried"}),)),
        f"{FIT_3}, taper roughly, handling no",
        "handling: no score in a rating session",
    ),
    (
        "a taper",
        having(readings=READINGS[:1]),
        "fit 1 of 1 reading, taper no, handling no",
        "handling: 1 rated session, but no taper to go with it",
    ),
    (
        "nothing but a reading past the point",
        having(readings=(*READINGS, Reading(at_mm=1700.0, diameter_mm=5.0))),
        "fit 3 of 4 readings, taper roughly",
        "fit: the reading at 1700 mm left out: past the point",
    ),
    (
        "nothing, being planned",
        having(status="planned"),
        "fit 0 of 3 readings, taper roughly",
        "fit: a planned whip takes no part",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("whip", "line", "reason"), [x[1:] for x in HOLES], ids=[x[0] for x in HOLES])
def test_the_line_of_a_whip_that_lacks(whip: Whip, line: str, reason: str) -> None:
    use = told(whip)
    assert use.line().startswith(f"usable for: {line}")
    assert reason in "\n".join(use.reasons(MILLIMETRES))


@pytest.mark.parametrize("whip", [x[1] for x in HOLES], ids=[x[0] for x in HOLES])
def test_a_fit_uses_as_many_readings_as_are_called_usable(whip: Whip) -> None:
    expected = 0 if whip.status == "planned" else len(observe(placed(whip), CORDS)[0])
    assert told(whip).usable == expected


def test_better_than_another_whip_is_a_score_and_not_tried_is_none() -> None:
    beside = RatingSession(compared_with="old 3", scores={"ease": "better", "volley": "not tried"})
    assert told(having(ratings=(beside,))).scores == 1
    assert told(having(ratings=(replace(beside, scores={"volley": "not tried"}),))).scores == 0


def test_a_test_plait_has_neither_taper_nor_handling() -> None:
    assert told(having(type="test plait")).line() == f"usable for: {FIT_3}"


def test_places_are_told_in_the_units_of_the_viewer() -> None:
    whip = having(status=None, readings=(Reading(at_mm=609.6, diameter_mm=12.0, after_layer=1),))
    assert "the reading at 24 in on layer 1" in "\n".join(told(whip).reasons(INCHES))
    assert "the reading at 610 mm on layer 1" in "\n".join(told(whip).reasons(MILLIMETRES))


def readings_at(*stations: float) -> tuple[Reading, ...]:
    return tuple(Reading(at_mm=at, diameter_mm=15.0 - at / 200) for at in stations)


@pytest.mark.parametrize(
    ("stations", "level"),
    [
        (range(0, 1601, 200), "yes"),
        (range(0, 1601, 400), "yes"),  # a quarter apart: between two readings the thong is known
        ((0, 400, 800, 1600), "roughly"),
        ((0, 800, 1600), "roughly"),
        ((100, 800, 1500), "roughly"),  # within a sixteenth of the ends
        ((110, 800, 1600), "no"),  # the thick end is not known
        ((0, 1600), "no"),
    ],
)
def test_stations_that_readings_make_known(stations: Sequence[float], level: str) -> None:
    whip = having(layers=(), readings=readings_at(*stations))
    assert told(whip).taper == level


def test_a_doubtful_reading_makes_a_station_known_roughly() -> None:
    readings = readings_at(*range(0, 1601, 200))
    sure = told(having(layers=(), readings=readings)).stations[2].sd_log
    doubted = replace(readings[2], doubtful=True)
    doubt = told(having(layers=(), readings=(*readings[:2], doubted, *readings[3:]))).stations[2].sd_log
    assert sure is not None
    assert doubt == pytest.approx(2 * sure)


def test_a_known_stack_gives_a_taper_once_a_fit_is_sure_of_it() -> None:
    """Nothing read: geometry alone is not sure enough, a fit to whips of the same make is roughly."""
    bare = having(label="S-2", readings=(), ratings=())
    assert told(bare).taper == "no"
    lines = told(bare).reasons(MILLIMETRES)
    assert any("at the" in x and "± 13 % is wanted" in x for x in lines)
    stations = [POINT_MM * k / 12 for k in range(13)]
    made = [
        replace(SOUND, label=f"M-{n}", readings=tuple(Reading(at_mm=at, diameter_mm=8.0) for at in stations))
        for n in range(6)
    ]
    seen = [each for whip in made for each in observe(whip, CORDS)[0]]
    queries = [Query(stack=each.stack, maker=each.maker, at_mm=each.at_mm) for each in seen]
    seen = [
        replace(each, diameter_mm=p.diameter_mm)
        for each, p in zip(seen, PRIORS.predict(queries), strict=True)
    ]
    fitted = InForce(DiameterModel().fit(seen).calibration_, 1)
    use = told(bare, fitted)
    assert use.taper in ("roughly", "yes")
    assert {x.known_from for x in use.stations} == {"prediction"}
    assert told(replace(bare, ratings=(RATED,)), fitted).handling
