"""Answers of the recording dialogue: taken back, refused with what to mend, whatever is typed."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plaitlog.models.errors import InputError
from plaitlog.service.usecases.recording.checks import look_over
from plaitlog.service.usecases.recording.dialogue import Bench, Draft
from plaitlog.service.usecases.recording.record import (
    answer,
    back,
    from_json,
    next_question,
    proposal,
    records,
    to_json,
)
from tests.usecases.recording_bench import BENCH, OLD, TODAY, lead, whip_record


def test_going_back_proposes_what_was_typed() -> None:
    draft = lead(Draft("old"), OLD, until="readings.1")
    question = next_question(draft, BENCH)
    assert question is not None
    draft = back(draft)
    again = next_question(draft, BENCH)
    assert again is not None
    assert again.key == "complete"
    draft = back(draft)
    cord = next_question(draft, BENCH)
    assert cord is not None
    assert (cord.key, proposal(draft, cord)) == ("cord.B", "Fell 3 mm")
    assert whip_record(lead(draft, OLD)) == whip_record(lead(Draft("old"), OLD))


def test_back_at_the_first_question_stays_there() -> None:
    assert back(Draft()) == Draft()


@pytest.mark.parametrize(
    ("key", "typed", "what"),
    [
        ("label", "2026-013", "in the workshop already"),
        ("made_on", "2027-01-01", "in the future"),
        ("made_on", "last spring", "is not a date"),
        ("thong_length", "long", "write it like"),
        ("handle_diameter", "2 ft", "cannot be meant in ft"),
        ("foundation", "steel", "names no diameter"),
        ("layer.1", "core", "nothing after"),
        ("layer.1", "16A; 30: -2; 20: -2", "lies no further on"),
        ("layer.1", "belly 9 mm", "cannot be read"),
        ("readings.1", "0: fat", "character"),
        ("status", "sold", "choose planned"),
        ("hours", "many", "is not a number"),
        ("rate", "perhaps", "type y or n"),
        ("type", "none", "leave it empty"),
        ("weight", "fat", "write it like"),
        ("balance", "in the middle", "names no place"),
        ("turn_lengths", "2 1/2", "station: turn length"),
    ],
)
def test_an_answer_that_cannot_be_taken_says_what_to_mend(key: str, typed: str, what: str) -> None:
    draft = lead(Draft("new"), {}, until=key)
    question = next_question(draft, BENCH)
    assert question is not None
    assert question.key == key
    with pytest.raises(InputError, match=what):
        answer(draft, question, typed)


@pytest.mark.parametrize(
    ("key", "typed", "what"), [("rating.ease", "11", "is not a rating"), ("feel.slow_quick", "3", "-2 to")]
)
def test_a_rating_off_the_scale_is_refused(key: str, typed: str, what: str) -> None:
    draft = lead(Draft("new"), {"rate": "y"}, until=key)
    question = next_question(draft, BENCH)
    assert question is not None
    with pytest.raises(InputError, match=what):
        answer(draft, question, typed)


def test_a_reading_past_the_point_is_refused_when_it_is_typed() -> None:
    draft = lead(Draft("old"), {**OLD, "readings.1": "80: 7.2"}, until="readings.2")
    with pytest.raises(InputError, match="past the point"):
        look_over(draft, BENCH)


def test_a_slip_is_pointed_out_when_it_is_typed() -> None:
    draft = lead(Draft("old"), {**OLD, "layer.2": "overlay 15B; p"}, until="readings.1")
    assert "odd-count" in [finding.code for finding in look_over(draft, BENCH)]


PIECES = st.one_of(
    st.sampled_from(
        ["", "-", "none", "back", "y", "no", "1", "16A; 30: -2; p", "core 6; p", "binding 0.2 mm",
         "overlay 8B", "6'", "22", "0: 15; 6: 14", "belly: 3: 12", "2026-01-01", "A 38", "ridge", "Moor",
         "x", "7", "12: 2"]
    ),
    st.text(max_size=30),
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.lists(PIECES, max_size=60), st.sampled_from(["new", "old"]), st.booleans())
def test_whatever_is_typed_is_taken_or_refused_and_the_draft_is_kept_whole(
    typed: list[str], mode: str, first_time: bool
) -> None:
    bench = Bench(today=TODAY) if first_time else BENCH
    draft = Draft("new" if mode == "new" else "old")
    remedies: list[str] = []
    for text in typed:
        question = next_question(draft, bench)
        if question is None:
            break
        if text == "back":
            draft = back(draft)
            continue
        try:
            taken = answer(draft, question, text)
            look_over(taken.draft, bench)
        except InputError as error:
            remedies.append(error.finding.remedy)
            continue
        draft = taken.draft
        assert from_json(json.loads(json.dumps(to_json(draft)))) == draft
    assert all(remedies)
    assert all(record["kind"] in {"whip", "cord", "rating"} for record in records(draft, bench))


@pytest.mark.parametrize("kept", [{}, {"mode": "new"}, {"mode": "x", "answers": [], "taken_back": {}},
                                  {"mode": "new", "answers": [["a"]], "taken_back": {}}])  # fmt: skip
def test_what_is_no_draft_is_told_apart(kept: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="not a draft"):
        from_json(kept)
