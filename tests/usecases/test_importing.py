"""What an import makes of the workshop: what is added, what is replaced, what stays, what is remembered."""

import io
import json
from typing import Any

import pytest
from sqlalchemy import Engine, select

from plaitlog.models.errors import ImportRefusedError
from plaitlog.models.tables import HistoryEntryRow, HistoryRow, WhipRow
from plaitlog.models.whip import Span, Whip
from plaitlog.service.database import reading, writing
from plaitlog.service.usecases import workshop
from plaitlog.service.usecases.import_report import ImportReport
from plaitlog.service.usecases.importing import import_lines, take_records
from plaitlog.service.usecases.to_records import whip_record
from tests.usecases.examples import BULLWHIP, FELL, NOTEBOOK_WHIP, RIDGE, SESSION, WORKSHOP, Record

READING: Record = {"kind": "reading", "whip": "2026-014", "at_mm": 800, "diameter_mm": 14.5}


def take(engine: Engine, *records: Record, dry_run: bool = False) -> ImportReport:
    with writing(engine) as session:
        return take_records(session, records, actor="Orrin", dry_run=dry_run)


def whip(engine: Engine, label: str = "2026-014") -> Whip:
    with reading(engine) as session:
        return workshop.whip(session, label)


def outcomes(report: ImportReport) -> list[tuple[str, str, str]]:
    return [(row.kind, row.outcome, row.detail) for row in report.rows]


def entries(engine: Engine) -> list[HistoryEntryRow]:
    with reading(engine) as session:
        return list(session.scalars(select(HistoryEntryRow).order_by(HistoryEntryRow.id)))


def history(engine: Engine) -> list[HistoryRow]:
    with reading(engine) as session:
        return list(session.scalars(select(HistoryRow).order_by(HistoryRow.id)))


@pytest.fixture
def stocked(engine: Engine) -> Engine:
    take(engine, *WORKSHOP)
    return engine


def test_a_dry_run_tells_row_by_row_and_writes_nothing(engine: Engine) -> None:
    report = take(engine, *WORKSHOP, dry_run=True)
    assert [(row.line, row.kind, row.outcome) for row in report.rows if not row.implied] == [
        (1, "cord", "add"),
        (2, "cord", "add"),
        (3, "stock", "add"),
        (4, "whip", "add"),
        (5, "whip", "add"),
        (6, "rating", "add"),
        (7, "reading", "add"),
    ]
    makers = [(row.line, row.name, row.outcome, row.detail) for row in report.rows if row.implied]
    assert makers == [
        (4, "Orrin", "add", "named by whip 2026-014"),
        (5, "Tamsin", "add", "named by whip old 3"),
    ]
    assert sum(report.counts().values()) == len(WORKSHOP)
    assert not report.written
    assert report.readings_added == 4 + 3 + 1
    assert history(engine) == []
    with reading(engine) as session:
        assert workshop.whips_in_brief(session) == []


def test_cords_may_stand_below_the_whips_that_need_them(engine: Engine) -> None:
    take(engine, *reversed(WORKSHOP))
    assert len(whip(engine).readings) == 5


def test_keys_that_are_stated_replace_and_others_stay(stocked: Engine) -> None:
    before = whip(stocked)
    report = take(
        stocked,
        {"kind": "whip", "label": "2026-014", "thong_length": "6 ft 1 in", "hours": 12, "notes": None},
        {"kind": "cord", **{k: RIDGE[k] for k in ("name", "material", "construction")}, "pressed_mm": 2.2},
    )
    assert outcomes(report) == [
        ("whip", "update", "changed: thong_length_mm, thong_length, hours"),
        ("cord", "update", "changed: pressed_mm, pressed"),
    ]
    after = whip(stocked)
    assert (after.thong_length_mm, after.typed["thong_length"]) == (1854.2, "6 ft 1 in")
    assert after.hours == 12
    assert after.notes == before.notes, "null says no more than nothing"
    assert after.readings[-1].at_mm == before.readings[-1].at_mm == 480
    assert after.layers[0] == before.layers[0]
    with reading(stocked) as session:
        cord = workshop.cord(session, "Ridge 4 mm")
        assert (cord.pressed_mm, cord.typed, cord.flat_width_mm) == (2.2, {}, 4.4)
        assert session.scalar(select(WhipRow.version).where(WhipRow.label == "2026-014")) == 2, "the change's"


def test_a_number_alone_takes_the_place_of_an_older_text(stocked: Engine) -> None:
    take(stocked, {"kind": "whip", "label": "2026-014", "thong_length_mm": 1900})
    assert "thong_length" not in whip(stocked).typed


def test_layers_are_replaced_as_a_whole(stocked: Engine) -> None:
    layers = [{"role": "overlay", "cord": "Fell 3 mm", "strands": [[0, 12]]}]
    with pytest.raises(ImportRefusedError, match="nothing was taken") as refused:
        take(stocked, {"kind": "whip", "label": "2026-014", "layers": layers})
    # A reading in the workshop lies on layer 2, and would lie on nothing.
    assert "there is no layer 2" in str(refused.value.findings[0])
    take(stocked, {"kind": "whip", "label": "old 3", "layers": layers})
    assert [layer.role for layer in whip(stocked, "old 3").layers] == ["overlay"]


def test_identical_readings_are_counted_not_merged(stocked: Engine) -> None:
    first = take(stocked, READING, READING)
    assert outcomes(first) == [("reading", "add", ""), ("reading", "add", "")], "repeats, not duplicates"
    second = take(stocked, READING, READING, READING)
    assert [row.outcome for row in second.rows] == ["there already", "there already", "add"]
    assert [r.diameter_mm for r in whip(stocked).readings].count(14.5) == 3


@pytest.mark.parametrize(
    "other",
    [
        {"condition": "fresh"},
        {"diameter_mm": 14.6},
        {"on": "2026-04-01"},
        {"doubtful": True},
        {"after_layer": 1},
    ],
)
def test_a_reading_that_differs_in_anything_is_another_one(stocked: Engine, other: Record) -> None:
    take(stocked, {**READING, "at_mm": 200})
    assert take(stocked, {**READING, "at_mm": 200, **other}).rows[0].outcome == "add"


def test_the_same_reading_typed_otherwise_is_there_already(stocked: Engine) -> None:
    take(stocked, {**READING, "at_mm": 304.8})
    assert take(stocked, {**READING, "at_mm": None, "at": "1 ft"}).rows[0].outcome == "there already"


def test_readings_never_go_away(stocked: Engine) -> None:
    before = whip(stocked).readings
    report = take(
        stocked,
        {"kind": "whip", "label": "2026-014", "readings": [{"at_mm": 700, "diameter_mm": 14.9}]},
    )
    assert outcomes(report) == [("whip", "update", "1 reading added")]
    assert whip(stocked).readings[:-1] == before


def test_a_named_place_gets_its_station_when_the_length_is_noted(engine: Engine) -> None:
    take(engine, {"kind": "whip", "label": "w", "readings": "in mm: thick 18; mid 13; p 7"})
    assert [r.at_mm for r in whip(engine, "w").readings] == [0, None, None]
    take(engine, {"kind": "whip", "label": "w", "thong_length_mm": 1800})
    assert [r.at_mm for r in whip(engine, "w").readings] == [0, 900, 1800]
    again = take(engine, {"kind": "whip", "label": "w", "readings": "in mm: thick 18; mid 13; p 7"})
    assert outcomes(again) == [("whip", "there already", "")]


def test_what_was_typed_is_kept_and_given_back(engine: Engine) -> None:
    take(engine, RIDGE, FELL, NOTEBOOK_WHIP)
    record = whip_record(whip(engine, "old 3"))
    assert record["thong_length"] == "5' 6 1/2\""
    assert record["thong_length_mm"] == 1689.1
    assert record["readings_text"] == NOTEBOOK_WHIP["readings"]
    core, _, overlay = record["layers"]
    assert core["strands_text"] == NOTEBOOK_WHIP["layers"][0]["strands"]
    assert core["strands"] == [[0, 12], [[483, 533], 10], [None, 8], [[711.2, 863.6], 0]]
    assert overlay["cord"] == "Ridge 4 mm", "named by its letter"
    assert overlay["pattern"] == [[0, "u4o4"]]


def test_the_three_states_are_told_apart(engine: Engine) -> None:
    take(engine, {"kind": "whip", "label": "w", "fall": "none", "foundation": "none", "finish": None})
    found = whip(engine, "w")
    assert (found.fall, found.cracker) == ("none", None)
    assert (found.foundation, found.finish) == ("none", None)
    for key in ("handle_length_mm", "handle_diameter_mm", "handle_length"):
        take(engine, {"kind": "whip", "label": key, key: "none"})
        assert whip(engine, key).handle_length_mm == 0.0
        assert whip_record(whip(engine, key))["handle_length_mm"] == "none"


def test_strands_of_several_cords_go_by_their_shares_or_by_name(engine: Engine) -> None:
    layers = [
        {
            "role": "overlay",
            "cords": [{"cord": "Ridge 4 mm", "share": 8}, {"cord": "Fell 3 mm", "share": 4}],
            "strands": [[0, 12], [300, [6, 9]], [600, {"Ridge 4 mm": [4, 5], "Fell 3 mm": 3}]],
        }
    ]
    take(engine, RIDGE, FELL, {"kind": "whip", "label": "w", "layers": layers})
    schedule = whip(engine, "w").layers[0].schedule
    assert schedule is not None
    assert [step.counts for step in schedule.steps] == [
        (Span(8, 8), Span(4, 4)),
        (Span(4, 6), Span(2, 3)),
        (Span(4, 5), Span(3, 3)),
    ]
    assert whip_record(whip(engine, "w"))["layers"] == layers


def test_a_cord_that_is_not_noted_is_not_guessed(engine: Engine) -> None:
    layers = [
        {"role": "core", "cord": "Ridge 4 mm", "strands": "in: 6A; 30: end"},
        {"role": "overlay", "strands": "in: 16; p"},
    ]
    report = take(engine, RIDGE, {"kind": "whip", "label": "w", "layers": layers})
    assert whip(engine, "w").layers[1].cords == ()
    assert "cord-missing" in [finding.code for row in report.rows for finding in row.findings]


def test_a_whip_has_one_rating_of_its_own_and_any_number_of_sessions(stocked: Engine) -> None:
    assert [x.on and x.on.isoformat() for x in whip(stocked).ratings] == [None, "2026-03-09"]
    own = {"kind": "rating", "whip": "2026-014", "by": "Orrin", "scores": {"ease": 8}}
    corrected = {**SESSION, "scores": {"ease": 6}}
    another = {**SESSION, "hours_of_use": 9}
    report = take(stocked, own, corrected, another)
    assert [row.outcome for row in report.rows] == ["update", "update", "add"]
    assert [dict(x.scores) for x in whip(stocked).ratings] == [
        {"ease": 8.0},
        {"ease": 6.0},
        {"ease": 7.0, "accuracy": "not tried", "roll_out": 6.5},
    ]


def test_stock_goes_by_cord_colour_and_lot(stocked: Engine) -> None:
    black = {"kind": "stock", "cord": "Ridge 4 mm", "colour": "black", "lot": "2026-02", "metres": 90}
    report = take(stocked, black, {**black, "lot": None, "metres": 50})
    assert outcomes(report) == [("stock", "update", "changed: metres"), ("stock", "add", "")]
    with reading(stocked) as session:
        (ridge,) = [x for x in workshop.cords_with_stock(session) if x.cord.name == "Ridge 4 mm"]
    assert (ridge.metres, ridge.whips) == (140, 2)


def test_an_import_is_one_entry_of_the_history_with_before_and_after(stocked: Engine) -> None:
    (first,) = history(stocked)
    assert (first.actor, first.action) == ("Orrin", "record")
    assert [(entry.kind, entry.name) for entry in entries(stocked)] == [
        ("maker", "Orrin"), ("maker", "Tamsin"), ("cord", "Ridge 4 mm"), ("cord", "Fell 3 mm"),
        ("stock", "Ridge 4 mm"), ("whip", "2026-014"), ("whip", "old 3"), ("rating", "2026-014"),
    ]  # fmt: skip
    assert all((entry.history_id, entry.before) == (first.id, None) for entry in entries(stocked))
    take(stocked, {"kind": "whip", "label": "2026-014", "hours": 12}, READING)
    _, second = history(stocked)
    whip_entry, reading_entry = (x for x in entries(stocked) if x.history_id == second.id)
    old, new = whip_entry.before, whip_entry.after
    assert {key for key in new if new[key] != old.get(key)} == {"hours"}
    assert (reading_entry.before, reading_entry.after) == (None, READING)


def test_nothing_new_leaves_no_entry_in_the_history(stocked: Engine) -> None:
    take(stocked, *WORKSHOP)
    assert len(history(stocked)) == 1


def test_the_history_takes_a_record_back_to_what_it_was(stocked: Engine) -> None:
    old = whip_record(whip(stocked))
    take(stocked, {**BULLWHIP, "hours": 99, "notes": "spoilt", "layers": BULLWHIP["layers"][:3]})
    before = entries(stocked)[-1].before
    take(stocked, before)
    assert whip_record(whip(stocked)) == old


def test_a_file_tells_how_far_it_is_and_where_it_came_from(engine: Engine) -> None:
    told: list[tuple[str, int, int | None]] = []
    text = b"".join(json.dumps(record).encode() + b"\n" for record in WORKSHOP)
    with writing(engine) as session:
        import_lines(
            session,
            io.BytesIO(text),
            source="workshop.jsonl",
            size_bytes=len(text),
            progress=lambda *now: told.append(now),
        )
    assert told[0] == ("reading", len(text), len(text))
    assert told[-1] == ("writing", 2, 2)
    assert (history(engine)[0].action, history(engine)[0].subject) == ("import", "workshop.jsonl")


def test_what_is_asked_for_by_a_wrong_name_is_said_with_the_nearest(stocked: Engine) -> None:
    def ask(question: Any, name: str) -> str:
        with reading(stocked) as session, pytest.raises(Exception, match="in the workshop") as missing:
            question(session, name)
        return str(missing.value)

    assert "did you mean '2026-014'?" in ask(workshop.whip, "2026-041")
    assert "did you mean 'Fell 3 mm'?" in ask(workshop.cord, "Fel 3mm")
    assert "'plaitlog whips' lists them" in ask(workshop.whip, "zzz")


def test_whips_in_brief(stocked: Engine) -> None:
    with reading(stocked) as session:
        brief = workshop.whips_in_brief(session)
        last = workshop.last_whip(session)
    assert [(w.label, w.maker, w.type, w.layers, w.readings) for w in brief] == [
        ("2026-014", "Orrin", "bullwhip", 4, 5),
        ("old 3", "Tamsin", None, 3, 3),
    ]
    assert last is not None
    assert last.label == "old 3"
