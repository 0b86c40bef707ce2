"""Editing and removing: what replaces what, what is refused and how, and that nothing else moves."""

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy import Engine

from plaitlog.models.errors import NotFoundError, PlaitlogError, RecordError, StaleEditError
from plaitlog.models.whip import NOT_TRIED
from plaitlog.service.database import reading, writing
from plaitlog.service.usecases import workshop
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.changes.edited_records import typed_value
from plaitlog.service.usecases.changes.editing import Edited
from plaitlog.service.usecases.changes.undoing import undo
from plaitlog.service.usecases.exporting import export_lines
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.to_records import whip_record
from tests.usecases.contents import contents
from tests.usecases.examples import WORKSHOP

LABEL = "2026-014"


@pytest.fixture
def stocked(engine: Engine) -> Engine:
    with writing(engine) as session:
        take_records(session, WORKSHOP)
    return engine


def done(engine: Engine, edit: Callable[..., Edited], *what: Any, **named: Any) -> Edited:
    with writing(engine) as session:
        return edit(session, *what, **named)


def refused(engine: Engine, edit: Callable[..., Edited], *what: Any, **named: Any) -> Any:
    """The error, after making sure that nothing was written."""
    before = contents(engine)
    with pytest.raises(PlaitlogError) as error, writing(engine) as session:
        edit(session, *what, **named)
    assert contents(engine) == before
    return error.value


def whip(engine: Engine, label: str = LABEL) -> Any:
    with reading(engine) as session:
        return workshop.whip(session, label)


def exported(engine: Engine) -> bytes:
    with reading(engine) as session:
        return b"".join(export_lines(session))


def keys(engine: Engine, listed: Callable[..., Any], *of: str) -> list[int]:
    with reading(engine) as session:
        return [key for key, _, _ in listed(session, *of)]


def test_a_key_given_replaces_null_erases_and_others_stay(stocked: Engine) -> None:
    before = whip_record(whip(stocked))
    found = done(stocked, editing.edit_whip, LABEL, {"hours": 12, "notes": None, "datum": "handle end"})
    after = whip_record(whip(stocked))
    assert after == found.record
    assert found.before == before
    assert {key: after.get(key) for key in before if after.get(key) != before[key]} == {
        "hours": 12,
        "notes": None,
    }
    assert found.number == found.version == 2
    with reading(stocked) as session:
        assert workshop.whip_with_version(session, LABEL)[0] == 2


@pytest.mark.parametrize("label", [LABEL, "old 3"])
def test_an_edit_that_says_what_is_stored_changes_nothing(stocked: Engine, label: str) -> None:
    """The whole record, given back as it was got, key by key and at once."""
    record = whip_record(whip(stocked, label))
    before = contents(stocked)
    changes = {k: v for k, v in record.items() if k not in ("kind", "readings", "readings_text")}
    for given in ({}, changes, *({k: v} for k, v in changes.items())):
        assert done(stocked, editing.edit_whip, label, given).number is None, given
    assert contents(stocked) == before


def test_number_and_text_of_one_size_are_settled_together(stocked: Engine) -> None:
    done(stocked, editing.edit_whip, LABEL, {"thong_length": "6 ft 1 in"})
    found = whip(stocked)
    assert (found.thong_length_mm, found.typed["thong_length"]) == (1854.2, "6 ft 1 in")
    done(stocked, editing.edit_whip, LABEL, {"thong_length_mm": 1900})
    found = whip(stocked)
    assert (found.thong_length_mm, found.typed.get("thong_length")) == (1900, None)
    done(stocked, editing.edit_cord, "Fell 3 mm", {"diameter": None})
    with reading(stocked) as session:
        cord = workshop.cord(session, "Fell 3 mm")
    assert (cord.diameter_mm, cord.typed) == (None, {})
    error = refused(stocked, editing.edit_whip, LABEL, {"weight_g": 400, "weight": "500 g"})
    assert "'500 g' is 500, but weight_g says 400" in str(error)


def test_parts_that_did_not_change_are_not_written_anew(stocked: Engine) -> None:
    before = contents(stocked)
    done(stocked, editing.edit_whip, LABEL, {"weight_g": 420})
    after = contents(stocked)
    assert {table for table in before if before[table] != after[table]} == {"whips", "weights"}


def test_a_place_counted_from_the_point_moves_with_the_point(stocked: Engine) -> None:
    layers = [{"role": "overlay", "cord": "Fell 3 mm", "strands": "mm: 16 u4o4; p300: -4 u3o3 cut; p"}]
    record = {"kind": "whip", "label": "w", "thong_length_mm": 1500, "layers": layers}
    with writing(stocked) as session:
        take_records(session, [record])
    assert whip(stocked, "w").layers[0].schedule.steps[1].place.low_mm == 1200
    done(stocked, editing.edit_whip, "w", {"thong_length_mm": 1600})
    step = whip(stocked, "w").layers[0].schedule.steps[1]
    assert (step.place.low_mm, step.pattern) == (1300, "u3o3")
    assert done(stocked, editing.edit_whip, "w", {"thong_length_mm": 1600}).number is None


def test_layers_are_replaced_as_a_whole_and_letters_follow(stocked: Engine) -> None:
    layers = [{"role": "overlay", "cord": "Ridge 4 mm", "strands": "in: 16B; p"}]
    done(stocked, editing.edit_whip, "old 3", {"layers": layers})
    (layer,) = whip(stocked, "old 3").layers
    assert [(cord.cord, cord.letter) for cord in layer.cords] == [("Ridge 4 mm", "B")]
    done(stocked, editing.edit_whip, "old 3", {"layers": None})
    assert whip(stocked, "old 3").layers == ()
    assert len(whip(stocked, "old 3").readings) == 3


def test_the_short_rating_is_part_of_its_whip(stocked: Engine) -> None:
    found = done(stocked, editing.edit_whip, LABEL, {"ratings": {"ease": 8}})
    short, session = whip(stocked).ratings
    assert (short.scores, session.by) == ({"ease": 8}, "Tamsin")
    with reading(stocked) as at:
        assert workshop.whip_with_version(at, LABEL)[0] == found.version
    done(stocked, editing.edit_whip, LABEL, {"ratings": None})
    assert [rating.by for rating in whip(stocked).ratings] == ["Tamsin"]
    done(stocked, editing.edit_whip, LABEL, {"ratings": {"volley": "not tried"}})
    assert [rating.scores for rating in whip(stocked).ratings if not rating.by] == [{"volley": NOT_TRIED}]


PLAN: dict[str, Any] = {
    "spec": {"layers": [{"role": "overlay", "cord": "Fell 3 mm"}]},
    "layers": [{"role": "overlay", "cord": "Fell 3 mm", "strands": [[0, 16], [600, 12]]}],
    "stations": [{"at_mm": 0, "diameter_mm": 14, "low_90_mm": 13, "high_90_mm": 15}],
    "cord_totals": [{"cord": "Fell 3 mm", "metres": 33.5}],
}


def test_a_kept_plan_goes_with_the_name_of_a_cord_and_an_undo_brings_both_back(stocked: Engine) -> None:
    done(stocked, editing.edit_whip, LABEL, {"plan": PLAN})
    assert whip(stocked).plan == PLAN
    before = contents(stocked)
    edited = done(stocked, editing.edit_cord, "Fell 3 mm", {"name": "Fell three"})
    assert "Fell 3 mm" not in str(whip(stocked).plan)
    assert str(whip(stocked).plan).count("Fell three") == 3
    with writing(stocked) as session:
        undo(session, edited.number)
    assert contents(stocked) == before


def test_a_kept_plan_that_is_none_is_refused_where_it_is_wrong(stocked: Engine) -> None:
    station = {**PLAN["stations"][0], "low_90_mm": 14.5}
    plan = {**PLAN, "layers": [{"role": "overlay", "strands": [[0, "x"]]}], "stations": [station]}
    error = refused(stocked, editing.edit_whip, LABEL, {"plan": plan})
    assert [finding.where for finding in error.findings] == ["plan, stations 1", "plan, layers 1, strands 1"]
    missing = refused(stocked, editing.edit_whip, LABEL, {"plan": {"layers": []}})
    assert [finding.where for finding in missing.findings] == ["plan, stations"]


def test_renaming_takes_everything_along(stocked: Engine) -> None:
    done(stocked, editing.edit_cord, "Ridge 4 mm", {"name": "Ridge 5 mm", "diameter_mm": 5})
    done(stocked, editing.edit_maker, "Orrin", {"name": "Orrin the elder"})
    done(stocked, editing.edit_whip, LABEL, {"label": "2026-015"})
    found = whip(stocked, "2026-015")
    assert found.maker == "Orrin the elder"
    assert found.layers[0].cords[0].cord == "Ridge 5 mm"
    assert len(found.readings) == 5
    assert b"Ridge 4 mm" not in exported(stocked)


def test_a_maker_who_is_new_is_added_with_the_edit(stocked: Engine) -> None:
    done(stocked, editing.edit_whip, LABEL, {"maker": "Fenn"})
    with reading(stocked) as session:
        assert workshop.makers(session) == ["Fenn", "Orrin", "Tamsin"]


def test_a_reading_is_edited_by_its_number(stocked: Engine) -> None:
    first, second, third, *_ = keys(stocked, workshop.readings_with_keys, LABEL)
    done(stocked, editing.edit_reading, first, {"diameter": "22.1 mm", "at": "1 in"})
    done(stocked, editing.edit_reading, second, {"doubtful": True, "after_layer": None})
    done(stocked, editing.edit_reading, third, {"diameter_mm": 15})
    one, two, three, *_ = whip(stocked).readings
    assert (one.diameter_mm, one.at_mm, one.typed) == (22.1, 25.4, {"at": "1 in", "diameter": "22.1 mm"})
    assert (two.doubtful, two.after_layer) == (True, None)
    assert (three.diameter_mm, three.girth_mm, three.tape_mm) == (15, None, None)
    found = done(stocked, editing.edit_reading, third, {"whip": "old 3"})
    assert found.record["whip"] == "old 3"
    assert (len(whip(stocked).readings), len(whip(stocked, "old 3").readings)) == (4, 4)


def test_a_rating_is_edited_by_its_number(stocked: Engine) -> None:
    short, session = keys(stocked, workshop.ratings_with_keys, LABEL)
    done(stocked, editing.edit_rating, session, {"scores": {"ease": 2}, "feel": None, "hours_of_use": 5})
    done(stocked, editing.edit_rating, short, {"notes": "at dusk"})
    noted, by_tamsin = whip(stocked).ratings
    assert (by_tamsin.scores, by_tamsin.feel, by_tamsin.hours_of_use) == ({"ease": 2}, {}, 5)
    assert (noted.notes, noted.scores["ease"]) == ("at dusk", 7)


def test_stock_is_edited_by_its_number(stocked: Engine) -> None:
    (key,) = keys(stocked, workshop.stock_with_keys)
    done(stocked, editing.edit_stock, key, {"metres": 90, "cord": "Fell 3 mm", "colour": None})
    with reading(stocked) as session:
        ((_, version, stock),) = workshop.stock_with_keys(session)
    assert (stock.cord, stock.colour, stock.metres, version) == ("Fell 3 mm", None, 90, 2)


@pytest.mark.parametrize(
    ("changes", "where", "said"),
    [
        ({"hour": 3}, "hour", "did you mean 'hours'?"),
        ({"kind": "cord"}, "kind", "a whip has no key 'kind'"),
        ({"label": "old 3"}, "label", "'old 3' is the label of another whip"),
        ({"label": None}, "label", "missing"),
        ({"thong_length_mm": -3}, "thong_length_mm", "-3 is not a size"),
        ({"thong_length_mm": 300}, "readings", "past the point"),
        ({"layers": [{"role": "core", "cord": "Moss"}]}, "layers 1, cord", "no cord 'Moss'"),
        ({"layers": []}, "readings 2", "there is no layer 2"),
        ({"readings": []}, "readings", "changed one by one"),
        ({"notes": "a\0b"}, "notes", "no text"),
        ({"weight": "9 stone"}, "weight", "9 stone"),
        ({"status": "lost"}, "status", "finished"),
    ],
)
def test_what_an_import_would_refuse_is_refused(
    stocked: Engine, changes: dict[str, Any], where: str, said: str
) -> None:
    error = refused(stocked, editing.edit_whip, LABEL, changes)
    assert isinstance(error, RecordError)
    assert where in error.finding.where
    assert said in " ".join(map(str, error.findings))


def test_refusals_of_other_nouns(stocked: Engine) -> None:
    first, *_ = keys(stocked, workshop.readings_with_keys, LABEL)
    short, session = keys(stocked, workshop.ratings_with_keys, LABEL)
    (lot,) = keys(stocked, workshop.stock_with_keys)

    def said(edit: Callable[..., Edited], *what: Any) -> str:
        error = refused(stocked, edit, *what)
        assert isinstance(error, RecordError | NotFoundError)
        return str(error)

    assert "name: 'Fell 3 mm' is the name of another cord" in said(
        editing.edit_cord, "Ridge 4 mm", {"name": "Fell 3 mm"}
    )
    assert "'Tamsin' is the name of another maker" in said(editing.edit_maker, "Orrin", {"name": "Tamsin"})
    assert "did you mean 'Orrin'?" in said(editing.edit_maker, "Orin", {"name": "x"})
    assert "at_mm: " in said(editing.edit_reading, first, {"at_mm": 2500})
    assert "no reading number 99" in said(editing.edit_reading, 99, {"at_mm": 2})
    assert "is missing; say where" in said(editing.edit_reading, first, {"at_mm": None})
    assert "no whip 'w'" in said(editing.edit_reading, first, {"whip": "w"})
    assert "another rating of the same person" in said(
        editing.edit_rating,
        session,
        dict.fromkeys(("by", "on", "hours_of_use", "cracker", "feel", "notes")),
    )
    assert "no cord 'Moss'" in said(editing.edit_stock, lot, {"cord": "Moss"})
    assert "ease: 11 is not a rating" in said(editing.edit_rating, short, {"scores": {"ease": 11}})
    with writing(stocked) as at:
        take_records(at, [{"kind": "stock", "cord": "Ridge 4 mm", "colour": "red", "lot": "2026-02"}])
    assert "in stock already, as number 2" in said(editing.edit_stock, lot, {"colour": "red"})


def test_a_stale_edit_is_refused_with_both_values(stocked: Engine) -> None:
    with reading(stocked) as session:
        version, _ = workshop.whip_with_version(session, LABEL)
    edited = done(stocked, editing.edit_whip, LABEL, {"hours": 12, "notes": "soft"}, version=version)
    error = refused(
        stocked, editing.edit_whip, LABEL, {"hours": 13, "fall": "none", "notes": "stiff"}, version=version
    )
    assert isinstance(error, StaleEditError)
    assert error.version == edited.version
    assert error.conflicts == {"hours": (13, 12), "notes": ("stiff", "soft")}
    assert "hours: 12 is stored, 13 was typed" in str(error)
    assert (
        done(stocked, editing.edit_whip, LABEL, {"hours": 13}, version=edited.version).record["hours"] == 13
    )


def test_what_says_what_is_stored_already_is_not_stale(stocked: Engine) -> None:
    assert done(stocked, editing.edit_whip, LABEL, {"hours": 11.5}, version=77).number is None


def test_a_stale_removal_is_refused(stocked: Engine) -> None:
    (lot,) = keys(stocked, workshop.stock_with_keys)
    for remove, what in (
        (editing.remove_whip, LABEL),
        (editing.remove_cord, "Fell 3 mm"),
        (editing.remove_maker, "Orrin"),
        (editing.remove_stock, lot),
        (editing.remove_reading, 1),
        (editing.remove_rating, 1),
    ):
        assert isinstance(refused(stocked, remove, what, version=77), StaleEditError)


def test_what_is_still_used_cannot_be_removed(stocked: Engine) -> None:
    assert "cord 'Ridge 4 mm' is named by 2026-014, old 3" in str(
        refused(stocked, editing.remove_cord, "Ridge 4 mm")
    )
    assert "maker 'Tamsin' is named by old 3" in str(refused(stocked, editing.remove_maker, "Tamsin"))


def test_everything_can_be_removed_from_the_outside_in(stocked: Engine) -> None:
    before = whip_record(whip(stocked))
    removed = done(stocked, editing.remove_whip, LABEL)
    assert (removed.record, removed.version, removed.number) == (before, 1, 2)
    for key in keys(stocked, workshop.readings_with_keys, "old 3"):
        done(stocked, editing.remove_reading, key)
    done(stocked, editing.remove_whip, "old 3")
    done(stocked, editing.remove_maker, "Orrin")
    done(stocked, editing.remove_maker, "Tamsin")
    done(stocked, editing.remove_cord, "Ridge 4 mm")  # with its stock
    done(stocked, editing.remove_cord, "Fell 3 mm")
    assert not any(contents(stocked).values())
    assert isinstance(refused(stocked, editing.remove_whip, LABEL), NotFoundError)


def test_one_rating_or_reading_is_removed_by_its_number(stocked: Engine) -> None:
    short, session = keys(stocked, workshop.ratings_with_keys, LABEL)
    first, *_ = keys(stocked, workshop.readings_with_keys, LABEL)
    done(stocked, editing.remove_rating, session)
    done(stocked, editing.remove_reading, first)
    assert [rating.by for rating in whip(stocked).ratings] == [None]
    assert len(whip(stocked).readings) == 4
    done(stocked, editing.remove_rating, short)
    assert whip(stocked).ratings == ()


@pytest.mark.parametrize(
    ("kind", "key", "text", "meant"),
    [
        ("whip", "weight_g", "420", 420),
        ("whip", "weight", "14 oz", "14 oz"),
        ("whip", "weight", "14", "14"),
        ("whip", "label", "2026", "2026"),
        ("whip", "notes", "null", None),
        ("whip", "notes", '"null"', "null"),
        ("whip", "notes", "true", "true"),
        ("whip", "layers_complete", "true", True),
        ("whip", "hours", "1e3", 1000.0),
        ("whip", "made_on", "2026-03-02", "2026-03-02"),
        ("whip", "handle_length_mm", "none", "none"),
        ("whip", "handle_length_mm", "200", 200),
        ("whip", "build_number", "37", 37),
        ("whip", "ratings", '{"ease": 7}', {"ease": 7}),
        ("cord", "price_per_m", "NaN", "NaN"),
        ("reading", "doubtful", "false", False),
    ],
)
def test_what_is_typed_at_a_prompt(kind: str, key: str, text: str, meant: object) -> None:
    assert typed_value(kind, key, text) == meant
    assert type(typed_value(kind, key, text)) is type(meant)
