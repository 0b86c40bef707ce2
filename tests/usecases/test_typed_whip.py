"""What stands in the fields of a whip reads back as the whip it is of: facts, layers, readings."""

import datetime as dt
from dataclasses import replace

import pytest

from plaitlog.models.errors import InputError, RecordError
from plaitlog.models.whip import Layer, Whip
from plaitlog.seed_demo.workshop import seed
from plaitlog.service.database import reading, write
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.changes.edited_records import edited_record
from plaitlog.service.usecases.changes.editing_whips import read_whip
from plaitlog.service.usecases.changes.typed_facts import facts_to_type
from plaitlog.service.usecases.changes.typed_layers import (
    TypedLayer,
    layers_changes,
    letters,
    typed_layers,
)
from plaitlog.service.usecases.changes.typed_readings import reading_changes, reading_texts
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.to_records import reading_record, whip_record
from plaitlog.service.usecases.workshop import whips
from tests.usecases.examples import BULLWHIP, NOTEBOOK_WHIP

INCHES, MM, COMMA = ShownUnits(), ShownUnits("mm", "mm"), ShownUnits("cm", "in", decimal_comma=True)
OWN = ("readings", "readings_text", "ratings", "layers", "letters", "layers_complete", "plan")


@pytest.fixture(scope="module")
def demo_whips(tmp_path_factory: pytest.TempPathFactory) -> list[Whip]:
    engine, _ = ready_engine(str(tmp_path_factory.mktemp("demo") / "plaitlog.db"))
    write(engine, seed)
    with reading(engine) as session:
        found = list(whips(session))[::5]
    engine.dispose()
    return found + [read_whip(record)[0] for record in (BULLWHIP, NOTEBOOK_WHIP)]


@pytest.mark.parametrize("shown", [INCHES, MM, COMMA])
def test_every_fact_reads_back_as_it_is_shown(demo_whips: list[Whip], shown: ShownUnits) -> None:
    facts = facts_to_type(
        shown,
        makers=("Orrin", "Tamsin"),
        cords=sorted({use.cord for whip in demo_whips for use in whip.cord_used}),
        today=dt.date(2100, 1, 1),
    )
    told = 0
    for whip in demo_whips:
        record = {key: value for key, value in whip_record(whip).items() if key not in OWN}
        changes = {}
        for fact in facts:
            text = fact.text(record)
            told += bool(text)
            changes |= fact.changes(text)
        again = read_whip(edited_record(record, changes))[0]
        same = replace(whip, readings=(), ratings=(), layers=(), layers_complete=None, plan=None)
        # To what is shown: a sixteenth of an inch, a tenth of a mm, a gram.
        for name in ("thong_length_mm", "handle_length_mm", "handle_diameter_mm"):
            assert getattr(again, name) == pytest.approx(getattr(same, name), abs=1.6)
        if whip.balance is not None:
            assert again.balance is not None
            assert again.balance.at_mm == pytest.approx(whip.balance.at_mm, abs=0.8)
        assert [one.weight_g for one in again.weights] == pytest.approx(
            [one.weight_g for one in whip.weights], abs=0.5
        )
        assert [(one.with_parts, one.after_layer) for one in again.weights] == [
            (one.with_parts, one.after_layer) for one in whip.weights
        ]
        assert [one.turn_mm for one in again.turn_lengths] == pytest.approx(
            [one.turn_mm for one in whip.turn_lengths], abs=0.8
        )
        assert [one.after_layer for one in again.turn_lengths] == [x.after_layer for x in whip.turn_lengths]
        for name in (
            "label", "maker", "type", "status", "made_on", "build_number", "datum", "quoted_length",
            "finish", "hours", "fall", "cracker", "notes",
        ):  # fmt: skip
            assert getattr(again, name) == getattr(same, name), name
        assert [one.cord for one in again.cord_used] == [one.cord for one in whip.cord_used]
    assert told > 100


def test_an_emptied_field_is_not_known_and_none_is_known_to_be_absent() -> None:
    facts = {one.key: one for one in facts_to_type(MM, makers=(), cords=(), today=dt.date(2100, 1, 1))}
    assert facts["thong_length"].changes("") == {"thong_length_mm": None, "thong_length": None}
    assert facts["handle_length"].changes("none") == {"handle_length_mm": None, "handle_length": "none"}
    assert facts["thong_length"].changes("1830") == {"thong_length_mm": None, "thong_length": "1830 mm"}
    for key, typed in (("thong_length", "none"), ("made_on", "2100-02-01"), ("build_number", "1.5")):
        with pytest.raises(InputError):
            facts[key].changes(typed)


@pytest.mark.parametrize("shown", [INCHES, MM])
def test_every_line_of_layers_reads_back_as_its_layer(demo_whips: list[Whip], shown: ShownUnits) -> None:
    for whip in demo_whips:
        if any(layer.schedule is None and layer.cords for layer in whip.layers):
            continue  # a cord without strands is not said by a line
        lines = [replace(line, was=None) for line in typed_layers(whip, shown)]
        changes = layers_changes(lines, letters(whip), whip.layers_complete, whip, shown)
        if not whip.layers:
            assert changes == {}
            continue
        bare = replace(whip, readings=(), ratings=(), typed={})
        again = read_whip(edited_record(whip_record(bare), changes))[0]
        assert list(map(_meant, again.layers)) == list(map(_meant, whip.layers)), whip.label


def _meant(layer: Layer) -> object:
    steps = layer.schedule and [
        (round(one.place.low_mm), round(one.place.high_mm), one.place.kind, one.counts, one.pattern)
        for one in layer.schedule.steps
    ]
    size = [None if x is None else round(x, 1) for x in (layer.diameter_mm, layer.thickness_mm)]
    return layer.role, [(one.cord, one.lot) for one in layer.cords], steps, size, layer.what, layer.notes


def test_lines_that_say_what_they_said_change_nothing(demo_whips: list[Whip]) -> None:
    for whip in demo_whips:
        lines = typed_layers(whip, INCHES)
        assert layers_changes(lines, letters(whip), whip.layers_complete, whip, INCHES) == {}


def test_one_changed_line_leaves_the_other_layers_as_they_are_recorded() -> None:
    whip = read_whip(NOTEBOOK_WHIP)[0]
    lines = typed_layers(whip, INCHES)
    new = [replace(lines[0], line="core 14A; 30: end"), *lines[1:], TypedLayer(line="binding 0.3 mm tape")]
    changes = layers_changes(new, letters(whip), True, whip, INCHES)
    assert [layer.get("strands_text") for layer in changes["layers"]] == [
        None, None, NOTEBOOK_WHIP["layers"][2]["strands"], None
    ]  # fmt: skip
    assert changes["layers"][0]["strands"] == "in: 14A; 30: end"
    assert changes["layers"][0]["cord"] == letters(whip)["A"]
    assert changes["layers"][3] == {"role": "binding", "thickness": "0.3 mm", "what": "tape"}
    assert changes["layers_complete"] is True


def test_every_line_that_cannot_be_read_is_told_with_its_place() -> None:
    whip = read_whip(BULLWHIP)[0]
    lines = [TypedLayer(line="core 6A; 3"), TypedLayer(line=""), TypedLayer(line="overlay 16Z; p")]
    with pytest.raises(RecordError) as error:
        layers_changes(lines, letters(whip), None, whip, INCHES)
    assert [one.where.partition(",")[0] for one in error.value.findings] == ["layer 1", "layer 2"]
    assert "Z" in error.value.findings[1].text


def test_a_reading_shown_and_kept_as_shown_changes_nothing(demo_whips: list[Whip]) -> None:
    for whip in demo_whips:
        for one in whip.readings:
            texts = reading_texts(reading_record(whip.label, one), INCHES)
            assert reading_changes(texts, texts, INCHES) == {}


def test_what_is_typed_in_a_reading_changes_that_alone() -> None:
    record = {"kind": "reading", "whip": "x", "at_mm": 304.8, "diameter_mm": 14.1, "doubtful": True}
    was = reading_texts(record, INCHES)
    assert was["at"] == "12 in"
    assert reading_changes({**was, "size": "14,3"}, was, INCHES) == {"diameter": "14,3 mm"}
    assert reading_changes({**was, "size": "girth 47.5"}, was, INCHES) == {"girth": "47.5 mm"}
    assert reading_changes({**was, "at": "p"}, was, INCHES) == {"place": "p", "at": None, "at_mm": None}
    assert reading_changes({**was, "doubtful": ""}, was, INCHES) == {"doubtful": None}
    with pytest.raises(InputError) as error:
        reading_changes({**was, "size": "thick"}, was, INCHES)
    assert error.value.finding.where == "size"
