"""Bad input: refused with line, key, value and remedy, all of it at once, and nothing half written."""

import datetime as dt
import io
import json
from collections.abc import Iterator
from typing import Any

import pytest
from sqlalchemy import Engine, select

from plaitlog.models.errors import ImportRefusedError
from plaitlog.models.tables import Base
from plaitlog.service.database import reading, writing
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.importing import import_lines, take_records
from tests.usecases.examples import FELL, RIDGE, WORKSHOP, Record


def cord(**keys: Any) -> Record:
    return {"kind": "cord", "name": "Moor 5 mm", "material": "nylon", "construction": "cored", **keys}


def whip(**keys: Any) -> Record:
    return {"kind": "whip", "label": "w", "thong_length_mm": 1000, **keys}


def layer(**keys: Any) -> Record:
    return whip(layers=[{"role": "overlay", "cord": "Ridge 4 mm", **keys}])


def at(**keys: Any) -> Record:
    return whip(readings=[{"at_mm": 300, "diameter_mm": 12, **keys}])


def readings(**keys: Any) -> Record:
    return {"readings": [keys]}


def rating(**keys: Any) -> Record:
    return {"kind": "rating", "whip": "2026-014", **keys}


TOMORROW = (dt.datetime.now(dt.UTC).date() + dt.timedelta(days=2)).isoformat()

REFUSED: list[tuple[Record, str]] = [
    # values
    (at(diameter_mm=-4.0), "readings 1, diameter_mm: -4.0 is not a size; write a number of mm above 0"),
    (at(diameter_mm=0), "readings 1, diameter_mm: 0 is not a size"),
    (at(diameter_mm=201), "readings 1, diameter_mm: 201 is more than any whip has (200 mm); check number"),
    (at(diameter_mm=float("nan")), "readings 1, diameter_mm: NaN is not a size"),
    (at(diameter_mm=float("inf")), "readings 1, diameter_mm: Infinity is not a size"),
    (at(diameter_mm=10**400), "readings 1, diameter_mm: 10000"),
    (at(diameter_mm="12 mm"), "'12 mm' is text; write a number, or the text under 'diameter'"),
    (at(diameter_mm=True), "readings 1, diameter_mm: true is not a number"),
    (at(at_mm=-1), "readings 1, at_mm: -1 is below 0"),
    (at(diameter_mm=None), "readings 1, diameter_mm: a reading has no size"),
    (at(girth_mm=40), "readings 1, diameter_mm: a reading has two sizes"),
    (at(at_mm=None), "readings 1, at_mm: is missing; say where the reading was taken"),
    (at(at_mm=None, at="12"), "readings 1, at: no unit in '12'; write '12 in'"),
    (at(at="13 in"), "readings 1, at: '13 in' is 330.2 mm, but at_mm says 300; correct one of them"),
    (at(tape_mm=0.3), "readings 1, tape_mm: a tape measures a girth; give girth_mm"),
    (at(place="p"), "readings 1, place: the reading has a station and a place; keep one"),
    (at(at_mm=None, place="thin"), "'thin' is no named place; write thick, mid or p"),
    (at(diameter_mm=None, girth_mm=2, tape_mm=1), "tape_mm: the tape is thicker than the whip"),
    (whip(thong_length_mm=30_000), "thong_length_mm: 30000 is more than any whip has"),
    (whip(hours=-1), "hours: -1 is below 0"),
    (whip(build_number=3.5), "build_number: 3.5 is not a whole number"),
    (whip(build_number=-1), "build_number: -1 is too small; at least 0"),
    (whip(build_number=2**31), "build_number: 2147483648 is too large; at most 2147483647"),
    (whip(notes="x" * 20_001), "xx... is too long; at most 20000 characters"),
    (whip(layers_complete="yes"), "layers_complete: 'yes' is neither true nor false"),
    (whip(readings={}), "readings: {} is not a list; write a list [...], or null"),
    (whip(finish=7), 'finish: 7 is not a list; write a list [...], "none", or null'),
    (whip(ratings=[7]), "ratings: [7] is not an object; write an object {...}, or null"),
    (whip(handle_length_mm=200, handle_diameter_mm="none"), "there is no handle, but it has a length"),
    (whip(type=5), "type: 5 is not text"),
    (whip(label=" "), "label: ' ' is empty"),
    (cord(linear_density_g_per_m=-7), "linear_density_g_per_m: -7 is not a size; write a number of g/m"),
    (whip(notes="a\0b"), "notes: 'a\\x00b' holds a character that is no text; take it out"),
    (whip(cord_used=[{"cord": "\ud800", "metres": 1}]), "cord_used 1, cord: '\\ud800' holds a"),
    # text where a number would stand
    (whip(weight="412"), "weight: no unit in '412'; write '412 g'"),
    (whip(weight="3 mm"), "weight: '3 mm': a mass cannot be meant in mm; write"),
    (cord(diameter="4"), "diameter: no unit in '4'; write '4 mm'"),
    (cord(diameter=4), "diameter: 4 has no unit; write it as text with its unit, or the number under"),
    (cord(diameter_mm=4, diameter="1/4 in"), "diameter: '1/4 in' is 6.35, but diameter_mm says 4; correct"),
    # keys and words
    (at(diamter_mm=5), "readings 1, diamter_mm: 'diamter_mm' is not a key here; did you mean 'diameter_mm'?"),
    (whip(colour="black"), "colour: 'colour' is not a key here"),
    (whip(status="done"), "status: 'done' is not known here; write 'planned', 'on the bench' or 'finished'"),
    (layer(role="outside"), "layers 1, role: 'outside' is not known here; write 'core', 'belly'"),
    ({"kind": "wihp"}, "kind: 'wihp' is not a kind of record; did you mean 'whip'?"),
    ({"label": "x"}, "kind: is missing; write one of maker, cord, stock, whip, rating, reading"),
    (cord(material=None), "material: null is not text"),
    ({"kind": "cord", "name": "x", "construction": "cored"}, "material: is missing"),
    # names
    (
        layer(cord="Rigde 4 mm"),
        "no cord 'Rigde 4 mm' is in the workshop or in this file; did you mean",
    ),
    (whip(cord_used=[{"cord": "Moss", "metres": 3}]), "cord_used 1, cord: no cord 'Moss' is in the workshop"),
    ({"kind": "stock", "cord": "Moss"}, "cord: no cord 'Moss' is in the workshop"),
    (rating(whip="2026-041"), "whip: no whip '2026-041' is in the workshop or in this file; did you mean"),
    # dates and ratings
    (whip(made_on=TOMORROW), f"made_on: {TOMORROW} is in the future; check the date"),
    (at(on=TOMORROW), f"readings 1, on: {TOMORROW} is in the future"),
    (whip(made_on="2.3.2026"), "made_on: '2.3.2026' is not a date; write it like 2026-03-02"),
    (whip(ratings={"ease": 11}), "ratings, ease: 11 is not a rating; write a number from 1 to 10"),
    (rating(scores={"volley": 0}), "scores, volley: 0 is not a rating"),
    (rating(scores={"speed": 5}), "scores, speed: 'speed' is not a key here"),
    (rating(feel={"limp_stiff": 3}), "feel, limp_stiff: 3 is not a two-sided note"),
    (rating(on=TOMORROW), "is in the future"),
    # layers
    (layer(strands=[[0, 16], [900, 12], [800, 8]]), "layers 1, strands 3: 800 mm does not lie past 900 mm"),
    (layer(strands=[[0, 16], [900, -2]]), "layers 1, strands 2: -2 is not a number of strands"),
    (layer(strands=[[0, 4.5]]), "layers 1, strands 1: 4.5 is not a number of strands"),
    (layer(strands=[[0, [16, 12]]]), "layers 1, strands 1: [16, 12] is not a number of strands"),
    (layer(strands=[[1200, 16]]), "layers 1, strands 1: the layer begins at 1200 mm, past the point"),
    (layer(strands=[[[800, 700], 16]]), "layers 1, strands 1: [800, 700] is not a place"),
    (layer(strands=[[0]]), "layers 1, strands 1: [0] is not a step; write it like [300, 5]"),
    (layer(strands=[]), "layers 1, strands: there is no step"),
    (layer(strands=[[0, {"Fell 3 mm": 8}]]), "'Fell 3 mm' is no cord of this layer; listed are: Ridge 4 mm"),
    (layer(strands=[[0, 16, "burn"]]), "layers 1, strands 1, character 1: 'burn' is no fate"),
    (layer(strands="in: 16; 30: -20"), "layers 1, strands, character 13"),
    (layer(strands="in: 16Q"), "layers 1, strands, character 7: 'Q' is the letter of no cord here"),
    (layer(strands=[[0, 16]], strands_text="mm: 12; p"), "strands_text: the notation does not say the same"),
    (layer(strands=[[0, 16]], fate="tuck 80"), "layers 1, fate, character 6: '80' has no unit"),
    (layer(strands=[[0, 16]], pattern="u9x"), "layers 1, pattern: 'u9x' is no pattern"),
    (layer(strands=[[0, 16]], diameter_mm=5), "layers 1, strands: a layer of strands has no given size"),
    (layer(strands=[[0, 16]], pattern=[[500, 7]]), "layers 1, pattern 1: [500, 7] is no pattern; write [900"),
    (layer(strands=[[0, 16]], pattern=[["x", "u4o4"]]), "layers 1, pattern 1: 'x' is not a place"),
    (layer(strands=[[9, 16]], pattern=[[5, "u4o4"]]), "layers 1, pattern 1: no step lies there, in this"),
    (layer(strands="mm: 16 u4o4; p", pattern="u2o2"), "layers 1, pattern: the notation has another pattern"),
    (layer(pattern=[[0, "u4o4"]]), "layers 1, pattern: patterns stand at steps; give the strands too"),
    (layer(strands="mm: 16; 9: -2 cut; p", fate="run"), "layers 1, fate: the fate is not that of the nota"),
    (layer(strands=[[0, 16], [9, 12]], strands_text="mm: 16; 90: -4; p"), "the notation does not say the"),
    (layer(strands=[[0, 16, 3]]), 'layers 1, strands 1: 3 is no fate; write "cut"'),
    (layer(cords=[{"cord": "Fell 3 mm"}]), "layers 1, cords: the layer has cord and cords; keep one"),
    (layer(cord=None, cords=[{"cord": "Fell 3 mm"}] * 2), "layers 1, cords: a cord is listed twice"),
    ({**layer(strands="in: 6A; p"), "letters": {"AB": "Fell 3 mm"}}, "letters: 'AB' is not a letter"),
    ({**layer(strands="in: 6; p"), "letters": {"A": "Fell 3 mm", "a": "Ridge 4 mm"}}, "is named twice"),
    (layer(thickness_mm=5), "is plaited and has no given size"),
    (whip(letters={"A": "Ridge 4 mm"}), "letters: no layers are listed whose cords they name"),
    # readings against the whip
    (at(at_mm=1200), "readings 1, at_mm: 1200 mm lies past the point at 1000 mm"),
    (at(after_layer=2), "readings 1, after_layer: there is no layer 2"),
    (
        {
            **layer(strands=[[0, 16], [500, 0]]),
            "readings": [{"at_mm": 700, "diameter_mm": 9, "after_layer": 1}],
        },
        "readings 1, after_layer: layer 1 (overlay) does not run at 700 mm",
    ),
    (
        {"kind": "reading", "whip": "2026-014", "at_mm": 2000, "diameter_mm": 9},
        "at_mm: 2000 mm lies past the point at 1830 mm",
    ),
    (whip(readings="in mm: 0: 19; 6"), "readings, character 15"),
    (whip(weight_with=["fall"]), "weight_with: no weight is given"),
    (whip(foundation={}), "foundation, diameter_mm: is missing"),
    (whip(turn_lengths=[{"at_mm": 3}]), "turn_lengths 1, turn_mm: is missing"),
]


@pytest.fixture(scope="module")
def stocked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    """One workshop for all these tests: each shows that nothing was written to it."""
    engine, _ = ready_engine(str(tmp_path_factory.mktemp("stocked") / "whips.db"))
    with writing(engine) as session:
        take_records(session, WORKSHOP)
    yield engine
    engine.dispose()


def everything(engine: Engine) -> list[Any]:
    with engine.connect() as connection:
        return [connection.execute(select(*t.c)).all() for t in Base.metadata.sorted_tables]


def refusals(engine: Engine, *records: Record) -> list[str]:
    def take() -> None:
        with writing(engine) as session:
            take_records(session, records)

    with pytest.raises(ImportRefusedError) as refused:
        take()
    return [str(finding) for finding in refused.value.findings]


@pytest.mark.parametrize(("record", "said"), REFUSED, ids=[said[:50] for _, said in REFUSED])
def test_refused_with_line_key_value_and_remedy(stocked: Engine, record: Record, said: str) -> None:
    before = everything(stocked)
    (found,) = refusals(stocked, record)
    assert found.startswith("line 1, ")
    assert said in found
    assert "; " in found, "there is no remedy"
    assert everything(stocked) == before


def test_every_refusal_of_a_file_is_said_at_once_and_nothing_is_written(stocked: Engine) -> None:
    before = everything(stocked)
    good = whip(label="good")
    found = refusals(
        stocked, good, cord(diameter_mm=-1, pressed_mm=-2), at(diameter_mm=0, after_layer=3), {"kind": "?"}
    )
    assert [finding.split(":")[0] for finding in found] == [
        "line 2, diameter_mm",
        "line 2, pressed_mm",
        "line 3, readings 1, diameter_mm",
        "line 4, kind",
    ]
    assert everything(stocked) == before


@pytest.mark.parametrize(
    ("records", "said"),
    [
        ([whip(), whip(notes="again")], "line 2, label: 'w' stands on line 1 already; keep one of them"),
        ([FELL, FELL], "line 2, name: 'Fell 3 mm' stands on line 1 already"),
        ([rating(by="Orrin"), rating(by="Orrin")], "line 2, whip: '2026-014' stands on line 1 already"),
    ],
)
def test_a_label_twice_in_one_file_is_refused(stocked: Engine, records: list[Record], said: str) -> None:
    assert refusals(stocked, *records) == [said.split(";")[0] + "; keep one of them"]


def test_a_rejected_line_is_named_where_others_need_it(stocked: Engine) -> None:
    for wrong in (cord(diameter_mm=-1), cord(diameter="1/4 in", diameter_mm=4)):
        found = refusals(stocked, wrong, layer(cord="Moor 5 mm"))
        assert "its own line 1 is rejected: mend that one" in found[1]


def test_refusals_are_all_counted_though_not_all_shown(stocked: Engine) -> None:
    text = b'{"kind":"maker"}\n' * 250

    def take() -> None:
        with writing(stocked) as session:
            import_lines(session, io.BytesIO(text))

    with pytest.raises(ImportRefusedError, match="250 rows are rejected for 250 reasons") as refused:
        take()
    assert len(refused.value.findings) == 100


def test_bytes_and_records_are_refused_together(stocked: Engine) -> None:
    text = b'{"kind":"maker","name":"caf\xe9"}\n' + json.dumps(cord(diameter_mm=-1)).encode() + b"\n{"
    with reading(stocked) as session:
        report = import_lines(session, io.BytesIO(text), dry_run=True)
    assert [str(finding).split(":")[0] for finding in report.refusals] == [
        "line 1",
        "line 2, diameter_mm",
        "line 3",
    ]
    assert report.counts() == {"add": 0, "update": 0, "there already": 0, "rejected": 3}


@pytest.mark.parametrize(
    ("record", "code"),
    [
        (layer(strands=[[0, 15]]), "odd-count"),
        (layer(strands=[[0, 12], [500, 16]]), "rising-count"),
        (layer(strands=[[0, 16]], pattern="u3o3"), "pattern-sum"),
        (layer(strands="in: 16; 10: -2"), "closing-assumed"),
        ({**RIDGE, "diameter_mm": 25.0, "linear_density_g_per_m": None}, "cord-unusual"),
    ],
)
def test_taken_with_a_finding(stocked: Engine, record: Record, code: str) -> None:
    with reading(stocked) as session:
        report = take_records(session, [record], dry_run=True)
    (row,) = report.rows
    assert row.outcome in ("add", "update")
    assert code in [finding.code for finding in row.findings]
