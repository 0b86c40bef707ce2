"""The report on a stored fit: who taught what, which readings are odd and why, what changed since."""

from collections import defaultdict
from dataclasses import replace
from typing import Any

import pytest
from sqlalchemy import Engine

from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.readings import readings
from plaitlog.models.errors import NotFoundError
from plaitlog.models.stack import PLAITED
from plaitlog.service.database import reading, writing
from plaitlog.service.reports.fit_report import FitReport
from plaitlog.service.usecases.fitting import gather, store, work_out
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.reporting_fit import report_of, teaching, thin_in
from plaitlog.service.usecases.shown_units import ShownUnits
from tests.calibration.laid_whips import whips

STATIONS = (0, 100, 200, 300, 400, 500, 600, 700)
CORDS = [
    {"kind": "cord", "name": name, "material": "nylon", "construction": "cored", "diameter_mm": size,
     "linear_density_g_per_m": round(0.41 * size**2, 3)}
    for name, size in (("Ridge 4 mm", 4.0), ("Fell 3 mm", 3.0), ("Tarn 2 mm", 2.0))
]  # fmt: skip


def whip(number: int, wrong: float = 1.0) -> dict[str, Any]:
    """A whip of a core and an overlay; its reading at 300 mm is wrong by a factor."""
    pull = 1 + 0.02 * (number % 3 - 1)
    sizes = [round(pull * (17.0 - mm / 250), 1) for mm in STATIONS]
    sizes[3] = round(sizes[3] * wrong, 2)
    return {
        "kind": "whip", "label": f"w{number:02d}", "maker": "Orrin", "status": "finished",
        "thong_length_mm": 1000, "layers": [
            {"role": "core", "cord": "Ridge 4 mm", "strands": [[0, 6], [500, 5], [900, 0]]},
            {"role": "overlay", "cord": "Fell 3 mm", "strands": [[0, 16], [400, 14]]},
        ],
        "readings": [
            {"at_mm": mm, "diameter_mm": size} for mm, size in zip(STATIONS, sizes, strict=True)
        ],
    }  # fmt: skip


def fitted(engine: Engine, *records: dict[str, Any]) -> int:
    with writing(engine) as session:
        take_records(session, [*CORDS, *records])
    with reading(engine) as session:
        gathered = gather(session)
    worked = work_out(gathered, with_evidence=False)
    with writing(engine) as session:
        return store(session, worked)


def report(engine: Engine, number: int) -> FitReport:
    with reading(engine) as session:
        return report_of(session, number, ShownUnits())


def test_a_wrong_reading_is_named_with_its_likely_cause_and_the_value_that_would_fit(engine: Engine) -> None:
    told = report(engine, fitted(engine, *(whip(k) for k in range(9)), whip(9, wrong=0.1)))
    (odd,) = told.odd
    assert (odd.whip, odd.at_mm, odd.code) == ("w09", 300, "decimal-point")
    assert odd.fitting_mm == pytest.approx(15.8, abs=0.5)
    assert odd.low_90_mm < 15.8 < odd.high_90_mm
    assert told.odd_in_all == 1


def test_cords_are_told_with_what_teaches_them(engine: Engine) -> None:
    told = report(engine, fitted(engine, *(whip(k) for k in range(2))))
    by_name = {cord.name: cord for cord in told.cords}
    fell = by_name["Fell 3 mm"]
    assert (fell.readings, fell.whips, fell.counts) == (16, 2, 2)
    assert fell.thin == ("only 2 whips",)
    assert by_name["Ridge 4 mm"].thin == ("only 2 whips", "never plaited")
    assert by_name["Tarn 2 mm"].thin == ("no reading",)
    assert [cord.half_width for cord in told.cords] == sorted(
        (cord.half_width for cord in told.cords), reverse=True
    )
    assert told.hands == "Orrin"
    assert told.rests_on == "16 readings of 2 whips in 2 cords by 1 maker"


def test_measurements_that_a_cord_lacks_are_weighed(engine: Engine) -> None:
    told = report(
        engine, fitted(engine, whip(0), {**CORDS[2], "linear_density_g_per_m": None, "name": "Scar"})
    )
    scar = next(cord for cord in told.cords if cord.name == "Scar")
    weighed = next(one for one in scar.worth if one.measurement == "linear_density_g_per_m")
    assert weighed.high_90_mm - weighed.low_90_mm < scar.high_90_mm - scar.low_90_mm


def test_the_test_plait_that_narrows_most_comes_first(engine: Engine) -> None:
    told = report(engine, fitted(engine, *(whip(k) for k in range(9)))).test_plaits
    assert told[0].data["cord"] == "Tarn 2 mm"
    assert "strands of Tarn 2 mm" in told[0].words
    narrower = [one.data["proposals"][0]["narrower"] for one in told]
    assert narrower == sorted(narrower, reverse=True)


def test_records_that_changed_since_are_told(engine: Engine) -> None:
    number = fitted(engine, *(whip(k) for k in range(3)), whip(3, wrong=3.14159))
    before = report(engine, number)
    assert not before.records_changed
    assert [odd.code for odd in before.odd] == ["girth"]
    with writing(engine) as session:
        take_records(session, [whip(7)])
    assert report(engine, number).records_changed
    with pytest.raises(NotFoundError, match="stored are 1"):
        report(engine, 99)


def test_what_teaches_a_cord_is_counted_as_by_hand() -> None:
    notebook = whips(7, {}, seed=2)
    assert teaching(readings(notebook)) == by_hand(notebook)
    assert teaching(readings(())) == {}


def by_hand(notebook: list[Observation]) -> dict[str, tuple[int, int, int]]:
    found: dict[str, tuple[set[int], set[str], set[float]]] = defaultdict(lambda: (set(), set(), set()))
    for number, one in enumerate(notebook):
        for layer in one.stack.layers:
            for group in layer.groups:
                if group.count.high > 0:
                    rows, labels, counts = found[group.cord.name]
                    rows.add(number)
                    labels.add(one.whip)
                    if layer.role in PLAITED:
                        counts.add(group.count.mid)
    return {name: (len(a), len(b), len(c)) for name, (a, b, c) in found.items()}


@pytest.mark.parametrize(
    ("counts", "told"),
    [
        ((0, 0, 0), ("no reading",)),
        ((1, 1, 1), ("only 1 reading", "one whip only", "one strand count only")),
        ((12, 3, 2), ()),
        ((40, 9, 0), ("never plaited",)),
    ],
)
def test_thin_is_said_in_words(counts: tuple[int, int, int], told: tuple[str, ...]) -> None:
    assert thin_in(*counts) == told


def test_a_reading_changed_since_is_odd_no_more(engine: Engine) -> None:
    number = fitted(engine, *(whip(k) for k in range(4)), whip(4, wrong=0.1))
    told = report(engine, number)
    assert len(told.odd) == 1
    with reading(engine) as session:
        gathered = gather(session)
    sizes = gathered.readings.diameter_mm.copy()
    sizes[sizes < 5] *= 10
    mended = replace(gathered, readings=replace(gathered.readings, diameter_mm=sizes))
    with reading(engine) as session:
        assert report_of(session, number, ShownUnits(), mended).odd == ()
