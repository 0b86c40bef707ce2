"""The list of whips against what one finds by going through every whip, and by hand."""

from collections.abc import Iterator
from typing import Any

import pytest
from sqlalchemy import Engine

from plaitlog.models.whip import Whip
from plaitlog.seed_demo.workshop import seed
from plaitlog.service.database import reading, write
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.whip_list import (
    NOT_NOTED,
    SORTED_BY,
    Wanted,
    WhipLine,
    latest_whips,
    whip_list,
)
from plaitlog.service.usecases.workshop import whips

EVERY = 10_000


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    """The demo without a fit; tests only look."""
    engine, _ = ready_engine(str(tmp_path_factory.mktemp("list") / "plaitlog.db"))
    write(engine, seed)
    yield engine
    engine.dispose()


@pytest.fixture(scope="module")
def nouns(workshop: Engine) -> list[Whip]:
    with reading(workshop) as session:
        return list(whips(session))


def listed(
    engine: Engine, wanted: Wanted | None = None, limit: int = EVERY, offset: int = 0
) -> list[WhipLine]:
    with reading(engine) as session:
        return list(whip_list(session, wanted or Wanted(), limit, offset).lines)


def words_of(whip: Whip) -> str:
    """Every text that is searched, in small letters."""
    cords = [cord.cord for layer in whip.layers for cord in layer.cords]
    return "\n".join([whip.label, whip.type or "", whip.notes or "", whip.maker or "", *cords]).lower()


def cords_of(whip: Whip) -> list[str]:
    return list(dict.fromkeys(share.cord for layer in whip.layers for share in layer.cords))


def test_each_line_says_what_the_whip_says(workshop: Engine, nouns: list[Whip]) -> None:
    lines = {line.label: line for line in listed(workshop)}
    assert lines.keys() == {whip.label for whip in nouns}
    for whip in nouns:
        line = lines[whip.label]
        assert (line.type, line.maker, line.status, line.made_on) == (
            whip.type,
            whip.maker,
            whip.status,
            whip.made_on,
        )
        assert (line.thong_length_mm, line.hours, line.notes) == (
            whip.thong_length_mm,
            whip.hours,
            whip.notes,
        )
        assert line.readings == len(whip.readings)
        assert list(line.cords) == cords_of(whip)
        given = [scores for one in whip.ratings if isinstance(scores := one.scores.get("overall"), float)]
        assert line.overall == (pytest.approx(sum(given) / len(given)) if given else None)
        weights = [one.weight_g for one in whip.weights if one.after_layer is None]
        assert line.weight_g == (weights[0] if weights else None)
        sizes = {one.size_mm for one in whip.readings if one.after_layer is None and not one.doubtful}
        for end in (line.thick_mm, line.point_mm):
            assert end is None or min(abs(end - size) for size in sizes) < 1e-9


@pytest.mark.parametrize(
    ("noted", "readings", "thick", "point"),
    [
        ({}, [], None, None),
        (
            {"thong_length_mm": 1000},
            [{"at_mm": 30, "diameter_mm": 14.0}, {"at_mm": 990, "diameter_mm": 5.5}],
            14.0,
            5.5,
        ),
        # A reading in the other half stands for no end, and one past the point for none at all.
        ({"thong_length_mm": 1000}, [{"at_mm": 700, "diameter_mm": 8.0}], None, 8.0),
        ({"thong_length_mm": 1000}, [{"at_mm": 30, "diameter_mm": 14.0}], 14.0, None),
        # Named places go before stations that are nearer.
        (
            {"thong_length_mm": 1000},
            [{"place": "thick", "diameter_mm": 15.0}, {"at_mm": 5, "diameter_mm": 14.0}],
            15.0,
            None,
        ),
        # Without a length only what is named stands for the point.
        ({}, [{"at_mm": 25, "diameter_mm": 19.5}, {"place": "p", "diameter_mm": 7.5}], 19.5, 7.5),
        # Counted from the butt the thong begins where the handle ends.
        (
            {"thong_length_mm": 1000, "datum": "butt", "handle_length_mm": 200},
            [{"at_mm": 100, "diameter_mm": 22.0}, {"at_mm": 210, "diameter_mm": 18.0}],
            18.0,
            None,
        ),
        # A doubtful reading and one on an inner layer do not tell how thick the whip is.
        (
            {"thong_length_mm": 1000},
            [
                {"at_mm": 10, "diameter_mm": 99.0, "doubtful": True},
                {"at_mm": 11, "diameter_mm": 9.0, "after_layer": 1},
                {"at_mm": 12, "diameter_mm": 14.0},
            ],
            14.0,
            None,
        ),
        # A girth less the tape: 44 mm round is 14.0 mm across, under a tape of 0.2 mm 13.8 mm.
        ({"thong_length_mm": 1000}, [{"at_mm": 10, "girth_mm": 44.0}], 13.806, None),
        # Measured again at the same place, the later reading counts.
        (
            {"thong_length_mm": 1000},
            [
                {"at_mm": 10, "diameter_mm": 14.4, "condition": "fresh"},
                {"at_mm": 10, "diameter_mm": 14.0, "condition": "rolled"},
            ],
            14.0,
            None,
        ),
    ],
)
def test_the_ends_are_what_was_read_nearest_to_them(
    sqlite_engine: Engine,
    noted: dict[str, Any],
    readings: list[dict[str, Any]],
    thick: float | None,
    point: float | None,
) -> None:
    layers = [{"role": "core", "strands": "in: 4; p"}, {"role": "overlay", "strands": "in: 12; p"}]
    record = {"kind": "whip", "label": "W", "layers": layers, **noted, "readings": readings}
    write(sqlite_engine, lambda session: take_records(session, [record]))
    (line,) = listed(sqlite_engine)
    assert line.thick_mm == (None if thick is None else pytest.approx(thick, abs=0.001))
    assert line.point_mm == (None if point is None else pytest.approx(point, abs=0.001))


@pytest.mark.parametrize("sort", [one for one in SORTED_BY if one != "latest"])
def test_sorted_by_any_column_with_unknowns_last(workshop: Engine, sort: str) -> None:
    everything = {line.label for line in listed(workshop)}
    for descending in (False, True):
        found = listed(workshop, Wanted(sort=sort, descending=descending))
        assert {line.label for line in found} == everything
        values: list[Any] = [getattr(line, sort) for line in found]
        known = [value for value in values if value is not None]
        assert values[len(known) :] == [None] * (len(values) - len(known))
        assert known == sorted(known, reverse=descending)


@pytest.mark.parametrize(
    "text",
    ["orrin", "FELL gutted", "2025-00", "tamsin ridge 4", "cow orrin", "drawn", "nobody", "100 %", "_", "%"],
)
def test_every_word_must_stand_somewhere(workshop: Engine, nouns: list[Whip], text: str) -> None:
    expected = {whip.label for whip in nouns if all(word in words_of(whip) for word in text.lower().split())}
    assert {line.label for line in listed(workshop, Wanted(text=text))} == expected


def test_narrowed_by_what_is_noted_or_is_not(workshop: Engine, nouns: list[Whip]) -> None:
    with reading(workshop) as session:
        choices = whip_list(session, Wanted(), 1)
    for kind, names, value_of in (
        ("type", choices.types, lambda whip: [whip.type]),
        ("maker", choices.makers, lambda whip: [whip.maker]),
        ("status", choices.statuses, lambda whip: [whip.status]),
        ("cord", choices.cords, lambda whip: cords_of(whip) or [None]),
    ):
        for name in (*names, NOT_NOTED):
            wanted = None if name == NOT_NOTED else name
            expected = {whip.label for whip in nouns if wanted in value_of(whip)}
            with reading(workshop) as session:
                found = whip_list(session, Wanted(**{kind: name}), EVERY)
            assert {line.label for line in found.lines} == expected, (kind, name)
            assert (found.matching, found.of) == (len(expected), len(nouns))


def test_pages_together_are_the_whole_list(workshop: Engine) -> None:
    wanted = Wanted(sort="type")  # many whips at each place of the order
    whole = [line.label for line in listed(workshop, wanted)]
    paged = [
        line.label for start in range(0, len(whole) + 7, 7) for line in listed(workshop, wanted, 7, start)
    ]
    assert paged == whole


def test_both_kinds_of_database_agree(engine: Engine) -> None:
    records = [
        {"kind": "whip", "label": label, "maker": maker, "notes": notes}
        for label, maker, notes in (
            ("b", "Orrin", "grün"),
            ("B", "Tamsin", "GRÜN"),
            ("a-1", None, "50 % off"),
            ("a_1", "Orrin", None),
        )
    ]
    write(engine, lambda session: take_records(session, records))
    labels = [line.label for line in listed(engine, Wanted(sort="label"))]
    assert labels == sorted(labels)  # by the codes of the characters
    assert [line.label for line in listed(engine, Wanted(text="Grün", sort="label"))] == ["B", "b"]
    assert [line.label for line in listed(engine, Wanted(text="a_1"))] == ["a_1"]
    assert [line.label for line in listed(engine, Wanted(sort="maker", descending=True))] == [
        "B",
        "a_1",
        "b",
        "a-1",
    ]
    for sort in SORTED_BY:
        assert len(listed(engine, Wanted(sort=sort))) == len(records)
    with reading(engine) as session:
        assert [line.label for line in latest_whips(session, 2)] == ["a_1", "a-1"]
        assert latest_whips(session, 2, "planned") == []
