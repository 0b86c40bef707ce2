"""A bench to record at, two whips to be recorded there, and one way to be led through the questions."""

import datetime as dt

from plaitlog.models.whip import Cord, Foundation, Layer, LayerCord, Whip
from plaitlog.service.usecases.recording.dialogue import Bench, Draft
from plaitlog.service.usecases.recording.record import answer, next_question, records
from plaitlog.service.usecases.shown_units import ShownUnits

TODAY = dt.date(2026, 3, 2)
RIDGE = Cord(name="Ridge 4 mm", material="nylon", construction="cored", diameter_mm=4.0)
FELL = Cord(name="Fell 3 mm", material="nylon", construction="cored", diameter_mm=3.0)
LAST = Whip(
    label="2026-013",
    maker="Orrin",
    type="bullwhip",
    datum="handle end",
    thong_length_mm=1828.8,
    quoted_length="6 ft over the handle",
    foundation=Foundation(diameter_mm=8, to_mm=0, material="steel"),
    layers=(
        Layer(role="core", cords=(LayerCord("Ridge 4 mm", letter="A"),)),
        Layer(role="overlay", cords=(LayerCord("Fell 3 mm", letter="B"),)),
    ),
    finish=("rolled",),
    fall="white hide",
)
BENCH = Bench(
    today=TODAY,
    labels=frozenset({"2026-013"}),
    makers=("Orrin", "Tamsin"),
    cords={"Ridge 4 mm": RIDGE, "Fell 3 mm": FELL},
    last=LAST,
    units=ShownUnits(),
)


def lead(draft: Draft, answers: dict[str, str], bench: Bench = BENCH, until: str = "") -> Draft:
    """Answer by key; what has no answer here is passed over by Enter."""
    while (question := next_question(draft, bench)) is not None and question.key != until:
        draft = answer(draft, question, answers.get(question.key, "")).draft
    return draft


def asked(draft: Draft, bench: Bench = BENCH) -> list[str]:
    return [key for key, _ in draft.answers]


def whip_record(draft: Draft, bench: Bench = BENCH) -> dict[str, object]:
    (found,) = [record for record in records(draft, bench) if record["kind"] == "whip"]
    return found


OLD = {
    "label": "N-07",
    "layer.1": "core 12; ~20: -2; ?: -2; 28..34: end",
    "cord.layer.1": "ridge",
    "layer.2": "overlay 16B; 30: -2 each 4 to 8 tuck 3; p",
    "cord.B": "fell",
    "thong_length": "6'",
    "readings.1": "thick 18,5; mid 13; p 7,2",
    "notes": "green notebook",
}


NEW = {
    "label": "",
    "thong_length": "",
    "handle_length": "8",
    "handle_diameter": "22",
    "layer.1": "6A; 12: -1 each 3 to 0 cut",
    "layer.2": "belly 12A; 28: -2 each 4 to 6 tuck 3; 45: end",
    "layer.3": "binding 0.2 mm thread to 40",
    "layer.4": "overlay 16B; 40: -2 each 4 to 8 tuck 3; p",
    "readings.1": "0 each 6: 22.1 19.8/19.6 18.9",
    "readings.2": "belly, fresh: 10: 13.9",
    "turn_lengths": "12: 2 1/2; 24: 2 1/4",
    "finish": "rolled, waxed",
    "weight": "14 1/2 oz with fall and cracker",
    "balance": "17 1/2 laid straight",
    "hours": "11 1/2",
    "cord_used": "A 38, B 12",
    "cracker": "none",
    "rate": "y",
    "hours_of_use": "4",
    "rating.ease": "7",
    "rating.accuracy": "x",
    "feel.limp_stiff": "-1",
}
