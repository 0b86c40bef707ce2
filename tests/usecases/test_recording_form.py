"""The recording dialogue as a form: the same records as question by question, every slip beside its field."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plaitlog.models.whip import Whip
from plaitlog.service.usecases.recording.dialogue import Bench, Draft
from plaitlog.service.usecases.recording.form import fill, first_texts
from plaitlog.service.usecases.recording.looking import look_at
from plaitlog.service.usecases.recording.record import answer, next_question, records
from plaitlog.service.usecases.shown_units import ShownUnits
from tests.usecases.recording_bench import BENCH, NEW, OLD, TODAY, lead

TAKEN = {"label": "2026-014", "status": "finished", "made_on": "2026-03-02", "type": "bullwhip"}


def by_prompt(typed: dict[str, str], bench: Bench = BENCH) -> Draft:
    """The same texts answered one after the other, nothing taken that was only proposed."""
    draft = Draft("new")
    while (question := next_question(draft, bench)) is not None:
        draft = answer(draft, question, typed.get(question.key) or "-").draft
    return draft


@pytest.mark.parametrize("typed", [NEW, OLD, {**NEW, "cord.B": "Moor 2 mm", "cord.B.material": "nylon"}])
def test_a_form_says_what_the_same_answers_say_at_the_prompt(typed: dict[str, str]) -> None:
    texts = {**typed, **TAKEN, "cord.A": "ridge", "cord.B.construction": "gutted"}
    texts.setdefault("cord.B", "fell")
    filled = fill(texts, "new", BENCH)
    assert filled.wrong == ()
    assert tuple(filled.draft.answers) == tuple(by_prompt(texts).answers)
    assert records(filled.draft, BENCH) == records(by_prompt(texts), BENCH)


def test_a_label_is_enough() -> None:
    filled = fill({"label": "a"}, "old", BENCH)
    assert filled.wrong == ()
    assert records(filled.draft, BENCH) == [{"kind": "whip", "label": "a"}]


def test_a_form_begins_with_label_maker_and_day_and_only_proposes_measures() -> None:
    begun = first_texts("new", BENCH, {})
    assert begun == {
        "label": "2026-014", "type": "bullwhip", "maker": "Orrin", "status": "finished",
        "made_on": "2026-03-02", "datum": "handle end",
    }  # fmt: skip
    lengths = {field.question.key: field for field in fill(begun, "new", BENCH).fields}["thong_length"]
    assert (lengths.typed, lengths.question.proposal) == ("", "6 ft")
    assert "label" not in first_texts("old", BENCH, {})  # a notebook has labels of its own


def test_every_slip_is_told_at_once_and_what_is_sound_is_still_read() -> None:
    typed = {
        **TAKEN, "thong_length": "long", "weight": "fat", "layer.1": "16A; 30: -2; 20: -2", "cord.A": "ridge",
        "layer.2": "overlay 12B; p", "cord.B": "fell", "notes": "kept",
    }  # fmt: skip
    filled = fill(typed, "new", BENCH)
    assert [field.question.key for field in filled.wrong] == ["thong_length", "layer.1", "weight"]
    assert {"cord.A", "layer.2", "cord.B"} <= filled.asked
    assert "notes: kept" in look_at(filled, BENCH, ShownUnits()).words


def test_a_cord_that_is_not_named_yet_is_waited_for() -> None:
    filled = fill({**TAKEN, "thong_length": "6 ft", "layer.1": "overlay 16B; 40: -2; p"}, "new", BENCH)
    (waiting,) = filled.wrong
    assert (waiting.question.key, waiting.needed) == ("cord.B", True)
    looked = look_at(filled, BENCH, ShownUnits())
    assert looked.sketch is not None
    assert [step.count for step in looked.sketch.layers[0].steps] == ["16", "14"]


def test_a_new_cord_is_asked_for_where_it_is_named_and_never_made_of_a_slip() -> None:
    filled = fill({**TAKEN, "layer.1": "overlay 16B; p", "cord.B": "Moor 2 mm"}, "new", BENCH)
    assert [field.question.key for field in filled.wrong] == ["cord.B.material", "cord.B.construction"]


def test_a_choice_that_is_a_number_is_meant_by_name() -> None:
    bench = replace(BENCH, makers=("2", "Orrin"))
    filled = fill({"label": "a", "maker": "2"}, "old", bench)
    assert records(filled.draft, bench) == [{"kind": "whip", "label": "a", "maker": "2"}]


def test_a_line_break_within_a_line_parts_words() -> None:
    filled = fill({"label": "a", "readings.1": "0 each 6: 19.2\n17.9\r\n16.4"}, "old", BENCH)
    assert filled.wrong == ()
    assert records(filled.draft, BENCH)[0]["readings"] == "in mm: 0 each 6: 19.2 17.9 16.4"


def test_a_last_whip_without_layers_leaves_the_usual_ones_proposed() -> None:
    bench = replace(BENCH, last=Whip(label="K-1", type="bullwhip"))
    fields = fill({**TAKEN, "layer.1": "6; p", "layer.2": "12; p", "layer.3": "16; p"}, "new", bench).fields
    echoes = [field.echo.partition(":")[0] for field in fields if field.question.key.startswith("layer.")]
    assert echoes == ["core", "belly", "overlay"]


PIECES = st.sampled_from(
    ["", "-", "none", "16A; 30: -2; p", "core 6; p", "overlay 8B", "binding 0.2 mm", "6'", "22",
     "0: 15; 6: 14", "Moor", "ridge", "yes", "7", "x", "12: 2", "8 steel"]
)  # fmt: skip
KEYS = [
    "label", "type", "thong_length", "layer.1", "layer.2", "layer.3", "cord.A", "cord.B", "cord.A.material",
    "cord.layer.1", "complete", "readings.1", "readings.2", "weight", "rate", "rating.ease", "foundation",
]  # fmt: skip


@settings(max_examples=25, deadline=None)
@given(st.dictionaries(st.sampled_from(KEYS), PIECES), st.booleans())
def test_a_form_asks_the_questions_that_a_prompt_would_ask(typed: dict[str, str], first_time: bool) -> None:
    bench = Bench(today=TODAY) if first_time else BENCH
    filled = fill(typed, "new", bench)
    draft = Draft("new")
    asked = []
    for field in filled.fields:
        question = next_question(draft, bench)
        assert question is not None
        asked.append(question.key)
        if field.error is not None:
            kept = field.typed if question.key.startswith("layer.") else ""
            draft = draft.with_answer(question.key, kept)
        else:
            draft = answer(draft, question, field.typed or "-").draft
    assert asked == [field.question.key for field in filled.fields]
    assert next_question(draft, bench) is None
    look_at(filled, bench, ShownUnits())


def test_taking_every_proposal_says_what_enter_says_at_the_prompt() -> None:
    typed = dict(first_texts("new", BENCH, {}))
    for _ in range(4):
        for field in fill(typed, "new", BENCH).fields:
            if not field.typed and field.question.proposal:
                typed[field.question.key] = field.question.proposal
    assert records(fill(typed, "new", BENCH).draft, BENCH) == records(lead(Draft("new"), {}), BENCH)
