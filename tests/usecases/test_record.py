"""The recording dialogue as plain data: questions in order, going back, the record that comes out."""

from dataclasses import replace

import pytest
from sqlalchemy import Engine

from plaitlog.models.errors import InputError
from plaitlog.models.whip import Whip
from plaitlog.service.database import reading, writing
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.recording.bench import bench_of
from plaitlog.service.usecases.recording.checks import in_words
from plaitlog.service.usecases.recording.dialogue import Bench, Draft
from plaitlog.service.usecases.recording.record import (
    answer,
    next_question,
    records,
    typed_units,
)
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.to_records import cord_record
from plaitlog.service.usecases.workshop import cords_by_name, whip
from tests.usecases.recording_bench import BENCH, FELL, NEW, OLD, RIDGE, TODAY, asked, lead, whip_record


def test_a_notebook_page_needs_few_questions_and_becomes_a_whip() -> None:
    draft = lead(Draft("old"), OLD)
    assert len(draft.answers) <= 15
    assert whip_record(draft) == {
        "kind": "whip",
        "label": "N-07",
        "type": "bullwhip",
        "maker": "Orrin",
        "datum": "handle end",
        "thong_length": "6'",
        "layers": [
            {"role": "core", "strands": "in: 12; ~20: -2; ?: -2; 28..34: end", "cord": "Ridge 4 mm"},
            {"role": "overlay", "strands": "in: 16B; 30: -2 each 4 to 8 tuck 3; p"},
        ],
        "letters": {"B": "Fell 3 mm"},
        "layers_complete": True,
        "readings": "in mm: thick 18,5; mid 13; p 7,2",
        "notes": "green notebook",
    }


def test_an_old_whip_proposes_no_measure_of_the_last_one() -> None:
    draft = lead(Draft("old"), {})
    assert set(whip_record(draft)) == {"kind", "label", "type", "maker", "datum"}


def test_a_new_whip_takes_proposals_of_the_last_one_and_every_measure() -> None:
    draft = lead(Draft("new"), NEW)
    found = whip_record(draft)
    assert found["label"] == "2026-014"
    assert found["made_on"] == "2026-03-02"
    assert found["thong_length"] == "6 ft"
    assert found["quoted_length"] == "6 ft over the handle"
    assert found["handle_length"] == "8 in"
    assert found["handle_diameter"] == "22 mm"
    assert found["foundation"] == {"diameter": "8 mm", "to": "0 mm", "material": "steel"}
    assert found["letters"] == {"A": "Ridge 4 mm", "B": "Fell 3 mm"}
    assert found["layers"] == [
        {"role": "core", "strands": "in: 6A; 12: -1 each 3 to 0 cut"},
        {"role": "belly", "strands": "in: 12A; 28: -2 each 4 to 6 tuck 3; 45: end"},
        {"role": "binding", "thickness": "0.2 mm", "to": "40 in", "what": "thread"},
        {"role": "overlay", "strands": "in: 16B; 40: -2 each 4 to 8 tuck 3; p"},
    ]
    assert found["readings"] == "in mm: 0 each 6: 22.1 19.8/19.6 18.9\nin mm, belly, fresh: 10: 13.9"
    assert found["turn_lengths"] == [{"at": "12 in", "turn": "2 1/2 in"}, {"at": "24 in", "turn": "2 1/4 in"}]
    assert found["finish"] == ["rolled", "waxed"]
    assert (found["weight"], found["weight_with"]) == ("14 1/2 oz", ["fall", "cracker"])
    assert found["balance"] == {"at": "17 1/2 in", "from": "butt", "how": "laid straight"}
    assert found["hours"] == 11.5
    assert found["cord_used"] == [
        {"cord": "Ridge 4 mm", "metres": 38.0},
        {"cord": "Fell 3 mm", "metres": 12.0},
    ]
    assert (found["fall"], found["cracker"]) == ("white hide", "none")
    (rating,) = [record for record in records(draft, BENCH) if record["kind"] == "rating"]
    assert rating == {
        "kind": "rating", "whip": "2026-014", "by": "Orrin", "on": "2026-03-02", "hours_of_use": 4.0,
        "fall": "white hide", "cracker": "none", "scores": {"ease": 7.0, "accuracy": "not tried"},
        "feel": {"limp_stiff": -1.0},
    }  # fmt: skip


def test_what_was_recorded_is_stored_as_an_import_would_store_it(engine: Engine) -> None:
    cords = [
        {"kind": "cord", "name": cord.name, "material": "nylon", "construction": "cored"}
        for cord in (RIDGE, FELL)
    ]
    with writing(engine) as session:
        take_records(session, cords)
    with reading(engine) as session:
        bench = bench_of(session, ShownUnits())
    draft = lead(Draft("new"), {**NEW, "label": "a", "maker": "Orrin", "thong_length": "6 ft"}, bench)
    with writing(engine) as session:
        take_records(session, records(draft, bench))
    with reading(engine) as session:
        stored = whip(session, "a")
        cords_there = cords_by_name(session)
    assert [layer.role for layer in stored.layers] == ["core", "belly", "binding", "overlay"]
    assert [reading.size_mm for reading in stored.readings] == [22.1, 19.8, 19.6, 18.9, 13.9]
    assert stored.readings[-1].after_layer == 2
    assert stored.typed["thong_length"] == "6 ft"
    assert stored.ratings[0].scores == {"ease": 7.0, "accuracy": "not tried"}
    assert set(cords_there) == {"Ridge 4 mm", "Fell 3 mm"}


def test_a_whip_thrown_beside_another_may_be_better_same_or_worse() -> None:
    given = {**NEW, "compared_with": "2026-013", "rating.ease": "Better", "rating.volley": "6"}
    (rating,) = [r for r in records(lead(Draft("new"), given), BENCH) if r["kind"] == "rating"]
    assert rating["compared_with"] == "2026-013"
    assert rating["scores"] == {"ease": "better", "volley": 6.0, "accuracy": "not tried"}


@pytest.mark.parametrize(
    ("key", "typed", "what"),
    [("compared_with", "2026-03", "did you mean '2026-013'"), ("rating.ease", "better", "is not a number")],
)
def test_a_comparison_needs_another_whip_of_the_workshop(key: str, typed: str, what: str) -> None:
    draft = lead(Draft("new"), {"rate": "y"}, until=key)
    question = next_question(draft, BENCH)
    assert question is not None
    with pytest.raises(InputError, match=what):
        answer(draft, question, typed)
    nothing_there = replace(BENCH, labels=frozenset())
    assert "compared_with" not in asked(lead(Draft("new"), {"rate": "y"}, nothing_there))


def test_a_cord_that_is_new_is_asked_for_and_recorded() -> None:
    answers = {**OLD, "cord.B": "Moor 2 mm", "cord.B.material": "", "cord.B.construction": "gut"}
    draft = lead(Draft("old"), answers)
    assert {"kind": "cord", "name": "Moor 2 mm", "material": "nylon", "construction": "gutted"} in records(
        draft, BENCH
    )


def test_the_overlay_ends_the_layers_and_a_missing_belly_is_not_taken_for_none() -> None:
    draft = lead(Draft("old"), {"layer.1": "overlay 16B; p", "cord.B": "fell"})
    assert "layer.2" not in asked(draft)
    assert "layers_complete" not in whip_record(draft)


def test_the_units_are_asked_once() -> None:
    bench = Bench(today=TODAY)
    draft = lead(Draft("new"), {"units.lengths": "mm", "label": "a", "thong_length": "1830"}, bench)
    assert typed_units(draft) == ShownUnits("mm", "mm")
    assert whip_record(draft, bench)["thong_length"] == "1830 mm"
    assert "units.lengths" not in asked(lead(Draft("new"), {}, BENCH))


def test_the_summary_says_the_whip_in_words_and_what_is_not_noted() -> None:
    lines = "\n".join(in_words(lead(Draft("old"), OLD), BENCH))
    assert "16 strands of B (Fell 3 mm)" in lines
    assert "at the thick end 18.5 mm" in lines
    assert "not noted:" in lines


def test_labels_count_on_within_the_year() -> None:
    def first(labels: set[str], last: str | None) -> str:
        bench = Bench(today=TODAY, labels=frozenset(labels), last=None if last is None else Whip(label=last))
        draft = lead(Draft("old"), {}, bench, until="label")
        question = next_question(draft, bench)
        assert question is not None
        return question.proposal

    assert first(set(), None) == "2026-001"
    assert first({"2026-009", "2026-011", "2025-040", "N-3"}, "N-3") == "2026-012"
    assert first({"2025-040"}, "2025-040") == "2026-001"
    assert first({"K7"}, "K7") == "K8"
    assert first({"K7", "K8"}, "K7") == "K9"
    assert first({"the thin one"}, "the thin one") == "the thin one-2"


def test_a_test_plait_is_asked_only_what_it_has() -> None:
    typed = {"type": "test plait", "thong_length": "200 mm", "foundation": "12", "layer.1": "8; p"}
    for mode in ("new", "old"):
        draft = lead(Draft("new" if mode == "new" else "old"), {**typed, "cord.layer.1": "fell"})
        assert not {"datum", "handle_length", "quoted_length", "balance", "rate"} & set(asked(draft))
        assert whip_record(draft)["foundation"] == {"diameter": "12 mm", "to": "200 mm"}
        assert whip_record(draft)["layers"] == [
            {"role": "overlay", "strands": "in: 8; p", "cord": "Fell 3 mm"}
        ]


def test_a_lot_is_asked_for_only_where_some_are_in_stock() -> None:
    assert not [key for key in asked(lead(Draft("new"), NEW)) if key.startswith("lot.")]
    bench = replace(BENCH, lots={"Fell 3 mm": ("2026-07", "2026-02")})
    for typed, lot in (("2", "2026-02"), ("2027-01", "2027-01"), ("", None)):
        draft = lead(Draft("new"), {**NEW, "lot.layer.4": typed}, bench)
        assert [key for key in asked(draft) if key.startswith("lot.")] == ["lot.layer.4"]
        layers = whip_record(draft, bench)["layers"]
        assert isinstance(layers, list)
        assert [layer.get("lot") for layer in layers] == [None, None, None, lot]


def test_the_bench_knows_the_lots_in_stock(engine: Engine) -> None:
    stock = [{"kind": "stock", "cord": "Ridge 4 mm", "colour": "black", "lot": x} for x in ("a", "b", None)]
    with writing(engine) as session:
        take_records(session, [cord_record(RIDGE), *stock])
    with reading(engine) as session:
        assert bench_of(session, None).lots == {"Ridge 4 mm": ("b", "a")}
