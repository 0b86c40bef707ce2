"""A layer in notation means what a maker means by it: worked by hand, and against a count of one's own."""

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plaitlog.models.errors import NotationError
from plaitlog.models.notation import echo_schedule, parse_schedule, print_schedule
from plaitlog.models.whip import Fate, LayerCord, Place, Span, StrandSchedule

LETTERS = {"A": "Ridge 4 mm", "B": "Fell 3 mm"}


def table(schedule: StrandSchedule) -> list[tuple[float, float, tuple[float, ...]]]:
    """Low and high place in mm, and exact counts, of every step."""
    return [
        (round(s.place.low_mm, 4), round(s.place.high_mm, 4), tuple(c.low for c in s.counts))
        for s in schedule.steps
    ]


def at(inches: float, *counts: float) -> tuple[float, float, tuple[float, ...]]:
    return (round(inches * 25.4, 4), round(inches * 25.4, 4), counts)


def test_drops_repeated_down_to_a_count() -> None:
    line = parse_schedule("in: 16A; 30: -2 each 4 to 8 tuck 3; p", letters=LETTERS)
    assert table(line.schedule) == [at(0, 16), at(30, 14), at(34, 12), at(38, 10), at(42, 8)]
    assert line.fate == Fate("tuck", 76.2)
    assert line.cords == (LayerCord("Ridge 4 mm", 1.0, "A"),)
    assert (line.schedule.rest, line.findings, line.unit) == ("point", (), "in")


def test_a_core_thinned_strand_by_strand_ends_by_itself() -> None:
    line = parse_schedule("in: 13A; 2 1/2: -1 each 2 1/2 to 0 cut", letters=LETTERS)
    assert table(line.schedule) == [at(2.5 * n, 13 - n) for n in range(14)]
    assert line.schedule.steps[-1].place.low_mm == pytest.approx(32.5 * 25.4)
    assert (line.fate, line.findings) == (Fate("cut"), ())


def test_a_belly_from_an_old_notebook() -> None:
    line = parse_schedule("in: 12; ~20: -2; ?: -2; 28..34: end")
    places = [step.place for step in line.schedule.steps]
    assert places == [
        Place(0, 0),
        Place(483, 533, "about"),
        Place(483, 863.6, "not noted"),
        Place(711.2, 863.6, "between"),
    ]
    assert [step.total.low for step in line.schedule.steps] == [12, 10, 8, 0]
    assert (line.cords, line.fate, line.findings) == ((), None, ())


def test_two_cords_with_patterns_and_fates() -> None:
    line = parse_schedule(
        "mm: 8A+8B u2o2u2o2; 900: -2A -2B u3o3 gut tuck 80; 1400: -4 u2o2 run; p", letters=LETTERS
    )
    assert table(line.schedule) == [(0, 0, (8, 8)), (900, 900, (6, 6)), (1400, 1400, (4, 4))]
    assert [step.pattern for step in line.schedule.steps] == ["u2o2u2o2", "u3o3", "u2o2"]
    assert [step.fate for step in line.schedule.steps] == [None, Fate("tuck", 80, gutted=True), Fate("run")]
    assert line.fate is None
    assert line.cords == (LayerCord("Ridge 4 mm", 8, "A"), LayerCord("Fell 3 mm", 8, "B"))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("in: 12; 20, 25, 31: -2; p", [at(0, 12), at(20, 10), at(25, 8), at(31, 6)]),
        ("in: 12; 20 25 31: -2; p", [at(0, 12), at(20, 10), at(25, 8), at(31, 6)]),
        ("in: 12; 20,25: -2; p", [at(0, 12), at(20.25, 10)]),
        ("in: 12; 30 1/2, 31 1/2: -2; p", [at(0, 12), at(30.5, 10), at(31.5, 8)]),
        ("in: 12; 5'6\": -2; p", [at(0, 12), at(66, 10)]),
        ("in: 12; 5' 6: -2; p", [at(0, 12), at(66, 10)]),
        ("in: 12; 12,7 mm: -2; p", [at(0, 12), at(0.5, 10)]),
        ("in: 12; 30: -2; then 4: -2; then 4: =4; p", [at(0, 12), at(30, 10), at(34, 8), at(38, 4)]),
        ("in: 12; 30: -2 each 4 x3; p", [at(0, 12), at(30, 10), at(34, 8), at(38, 6)]),
        ("in: 12; 30: -2 each 4 ×3; p", [at(0, 12), at(30, 10), at(34, 8), at(38, 6)]),
        ("in: 12; 30: +2 each 4 to 16; p", [at(0, 12), at(30, 14), at(34, 16)]),
        ("in: 12; 30: 8; p", [at(0, 12), at(30, 8)]),
        ("in: 10: 12; 30: end", [at(10, 12), at(30, 0)]),
        ("in: 12; at 30: - 2 every 4 to 8; p", [at(0, 12), at(30, 10), at(34, 8)]),
        ("in: 12; 30: end; end", [at(0, 12), at(30, 0)]),
        ("IN: 12a; 30: -2; P", [at(0, 12), at(30, 10)]),
        ("in: 8A+8B; 30: -2; p", [at(0, 8, 8), at(30, 7, 7)]),
        ("in: 8A+8B; 30: =12; p", [at(0, 8, 8), at(30, 6, 6)]),
        ("in: 8A+4B; 30: -3 each 4 to 6; p", [at(0, 8, 4), at(30, 6, 3), at(34, 4, 2)]),
        ("in: 8A; 30: +4B; 40: -2A; p", [at(0, 8, 0), at(30, 8, 4), at(40, 6, 4)]),
        ("in: 8A+8B; 30: =6A+0B; 40: -2; p", [at(0, 8, 8), at(30, 6, 0), at(40, 4, 0)]),
        ("in: 12; 30\u00a01/2:\u00a0−2; p", [at(0, 12), at(30.5, 10)]),
        ("in: 12;; 30: -2; p;", [at(0, 12), at(30, 10)]),
    ],
)
def test_ways_of_noting_a_step(text: str, expected: list[tuple[float, float, tuple[float, ...]]]) -> None:
    known = LETTERS if re.search(r"[0-9][AaB]", text) else {}
    assert table(parse_schedule(text, letters=known).schedule) == expected


def test_a_place_counted_from_the_point() -> None:
    line = parse_schedule("mm: 12; p200: -2; p", point_mm=1830)
    assert line.schedule.steps[1].place == Place(1630, 1630)
    line = parse_schedule("mm: 12; p200..p100: -2; p", point_mm=1830)
    assert line.schedule.steps[1].place == Place(1630, 1730, "between")


def test_repeats_carry_the_uncertainty_of_the_first_place() -> None:
    line = parse_schedule("mm: 12; ~500: -2 each 100 x2; 800..900: -2 each 200 x2; p")
    assert [step.place for step in line.schedule.steps[1:]] == [
        Place(475, 525, "about"),
        Place(575, 625, "about"),
        Place(800, 900, "between"),
        Place(1000, 1100, "between"),
    ]


def test_ranges_of_counts_are_carried() -> None:
    line = parse_schedule("in: 12..16; 20: -2; 30: =6..8; p")
    assert [step.total for step in line.schedule.steps] == [Span(12, 16), Span(10, 14), Span(6, 8)]


def test_a_place_not_noted_lies_between_its_neighbours() -> None:
    line = parse_schedule("mm: 12; 500: -2; ?: -2; ?: -2; 900: end")
    bounds = [(step.place.low_mm, step.place.high_mm) for step in line.schedule.steps[2:4]]
    assert bounds == [(500, 900), (500, 900)]


def test_a_bare_end_lies_past_the_last_step_at_a_place_not_noted() -> None:
    line = parse_schedule("mm: 12; 500: -2; end", point_mm=1830)
    assert line.schedule.steps[-1].place == Place(500, 1830, "not noted")
    assert line.schedule.steps[-1].total == Span(0, 0)


def test_closings() -> None:
    assert parse_schedule("mm: 12; 500: -2; ?").schedule.rest == "not noted"
    assert parse_schedule("mm: 12; 500: -2; p").schedule.rest == "point"
    open_line = parse_schedule("mm: 12; 500: -2")
    assert open_line.schedule.rest == "point"
    assert [finding.code for finding in open_line.findings] == ["closing-assumed"]


def test_a_fate_holds_until_it_is_changed() -> None:
    line = parse_schedule("mm: 12 tuck 80; 500: -2; 600: -2 gut; 700: -2 ?; 800: -2 run until 1200; p")
    assert [step.fate for step in line.schedule.steps] == [
        None, Fate("tuck", 80), Fate("tuck", 80, gutted=True), None, Fate("run", until_mm=1200),
    ]  # fmt: skip


def test_a_pattern_said_with_a_repeat_holds_after_the_last() -> None:
    line = parse_schedule("mm: 12 u3o3; 500: -2 each 50 to 8 u2o2; p")
    assert [step.pattern for step in line.schedule.steps] == ["u3o3", None, "u2o2"]
    only = parse_schedule("mm: 12 u3 o3; 500: u2o2 u2; p")
    assert [step.pattern for step in only.schedule.steps] == ["u3o3", "u2o2u2"]
    assert [step.total.low for step in only.schedule.steps] == [12, 12]


def test_counts_without_a_letter_go_by_the_shares_of_the_layer() -> None:
    cords = (LayerCord("Ridge 4 mm", 2), LayerCord("Fell 3 mm", 1))
    line = parse_schedule("mm: 12; 500: =6; 600: -1B; p", cords=cords)
    assert table(line.schedule) == [(0, 0, (8, 4)), (500, 500, (4, 2)), (600, 600, (4, 1))]
    assert [(cord.letter, cord.share) for cord in line.cords] == [("A", 2), ("B", 1)]


def test_the_only_named_cord_is_meant() -> None:
    assert parse_schedule("mm: 12; p", letters={"K": "Ridge 4 mm"}).cords == (
        LayerCord("Ridge 4 mm", 1.0, "K"),
    )


@given(
    start=st.integers(8, 24),
    drops=st.lists(st.tuples(st.integers(1, 60), st.integers(-1, 2)), min_size=1, max_size=12),
    unit=st.sampled_from(["in", "mm", "cm"]),
    decimals=st.integers(0, 2),
)
def test_steps_agree_with_a_running_count(
    start: int, drops: list[tuple[int, int]], unit: str, decimals: int
) -> None:
    """The text is built drop by drop beside a table of places and counts."""
    factor = {"in": Decimal("25.4"), "mm": Decimal(1), "cm": Decimal(10)}[unit]
    place, count = Decimal(0), start
    text, expected = [f"{start}"], [(0.0, start)]
    for further, dropped in drops:
        if count <= dropped:
            break
        place += Decimal(further) / 10**decimals
        count -= dropped
        change = f"-{dropped}" if dropped > 0 else f"+{-dropped}" if dropped else f"={count}"
        text.append(f"{place}: {change}".replace(".", ","))
        expected.append((float(place * factor), count))
    line = parse_schedule(f"{unit}: {'; '.join(text)}; p")
    assert [(step.place.low_mm, step.total.low) for step in line.schedule.steps] == expected


@pytest.mark.parametrize(
    ("text", "code", "where", "says"),
    [
        ("", "line-empty", 1, ""),
        ("in: ", "line-empty", 1, "in:"),
        ("12A; 30: -2", "unit-missing", 6, "30"),
        ("in: 12A; 30 -2; p", "place-missing", 10, "30: -2"),
        ("in: 12Q; p", "letter-unknown", 7, "A Ridge 4 mm, B Fell 3 mm"),
        ("in: 12; p", "count-letter", 5, "A Ridge 4 mm"),
        ("in: 12A; 30: -14; p", "count-negative", 14, "12"),
        ("in: 12A; 30: -2 each 4 to 7; p", "each-misses", 10, "7"),
        ("in: 12A; 30: -2 each 4 to 14; p", "each-misses", 10, "14"),
        ("in: 12A; 30: -2 each 4; p", "each-open", 17, "each 4 x3"),
        ("in: 12A; 30: -2 each 0 x2; p", "each-spacing", 17, "each"),
        ("in: 12A; 30: =8 each 4 x2; p", "each-change", 10, "-2"),
        ("in: 12A; ?: -2 each 4 x2; p", "each-place", 10, "place"),
        ("in: 12..16A; 30: -2 each 4 to 8; p", "each-range", 14, "x3"),
        ("in: 12A; 30: -2; 20: -2; p", "steps-unordered", 18, "handle to the point"),
        ("in: 12A; 30: -2; 30: -2; p", "steps-unordered", 18, "handle to the point"),
        ("in: 12A; 28-34: -2; p", "place-range", 10, "28..34"),
        ("in: 12A; 34..28: -2; p", "place-range", 10, "nearer"),
        ("in: 12A; p8: -2; p", "point-unknown", 10, "thong length"),
        ("in: 12A; ?: -2; then 4: -2; p", "place-then", 17, "no known place"),
        ("in: 12A; 30: frob; p", "step-unreadable", 14, "frob"),
        ("in: 12A; 30: -2 =8A; p", "change-twice", 14, "-2"),
        ("in: 12A; 30: cut; p", "change-missing", 14, "=12"),
        ("in: 12A; 30: -2 cut tuck 3; p", "fate-twice", 17, "cut"),
        ("in: 12A; 30: -2 gut; p", "fate-gut", 17, "gut"),
        ("in: 12A; 30: -2 cut gut; p", "fate-gut", 17, "gut"),
        ("in: 12A; 30: -2 cut until 4; p", "fate-until", 17, "run until"),
        ("in: 12A; p; 30: -2", "closing-early", 10, "last"),
        ("in: 12A; 30: end; p", "closing-after-end", 19, "no strand"),
        ("in: -2; p", "start-missing", 5, "16A"),
        ("in: 8A+8B; 30: -1; p", "count-letter", 16, "letter"),
        ("in: 8A+8B; 30: =8A; p", "count-incomplete", 17, "+8B"),
        ("in: 8A+8; p", "count-letter", 5, "8A+8B"),
        ("in: 12A; 19.2,18: -2; p", "place-unreadable", 10, "19.2,18"),
        ("in: 12A; 900 in: -2; p", "absurd", 10, "900 in"),
        ("in: 6.5A; p", "count-part", 5, "whole"),
        ("in 12A; 30: -2; p", "head", 1, "'in:'"),
        ("ft: 12A; 3: -2; p", "head", 1, "'in:'"),
        ("in: 12A; 30: -2, 34: -2; p", "colon-twice", 10, "';'"),
        ("in: 8A 8B; p", "count-twice", 8, "8A+8B"),
        ("mm: 12A; 900: -2; 1,200: -2; p", "steps-unordered", 19, "the comma is the decimal mark"),
        ("in: 12A; 30: -2 each 4 x999; p", "each-times", 10, "200"),
    ],
)  # fmt: skip
def test_a_refusal_names_the_character_the_piece_and_the_remedy(
    text: str, code: str, where: int, says: str
) -> None:
    with pytest.raises(NotationError) as caught:
        parse_schedule(text, letters=LETTERS)
    finding = caught.value.finding
    assert (finding.code, finding.where) == (code, f"character {where}")
    assert says in f"{finding.text} {finding.remedy}"
    assert finding.remedy


def test_a_line_longer_than_any_layer_is_refused() -> None:
    with pytest.raises(NotationError, match="characters"):
        parse_schedule("in: 12" + "; 30: -2" * 1000)


@given(st.text(max_size=60) | st.text("inm:;0123456789AB+-=~?.,p/'\" eachtoxucrkgd", max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    for letters in (LETTERS, {}):
        try:
            line = parse_schedule(text, letters=letters, point_mm=1830)
        except NotationError as error:
            finding = error.finding
        else:
            assert line.schedule.steps
            assert print_schedule(line.schedule, "mm", cords=line.cords, fate=line.fate)
            continue
        assert finding.text
        assert finding.remedy


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "in: 16A; 30: -2 each 4 to 8 tuck 3; p",
            "16 strands of A (Ridge 4 mm); at 30 in 14, then every 4 in two fewer down to 8; "
            "dropped strands tucked 3 in; runs to the point",
        ),
        (
            "in: 12A; ~20: -2; ?: -2; 28..34: end",
            "12 strands of A (Ridge 4 mm); about 20 in 10; at a place not noted 8; "
            "somewhere between 28 and 34 in it ends; what became of the dropped strands is not noted",
        ),
        (
            "mm: 8A+8B u2o2u2o2; 900: -2A -2B u3o3 gut tuck 80; 1400: -4 u2o2 run; ?",
            "8 strands of A (Ridge 4 mm) and 8 of B (Fell 3 mm), u2o2u2o2; "
            "at 900 mm 12 (6 A, 6 B) (tucked 80 mm, gutted), u3o3; "
            "at 1400 mm 8 (4 A, 4 B) (run on inside), u2o2; what follows is not noted",
        ),
        ("mm: 12..16A; p", "12 to 16 strands of A (Ridge 4 mm); runs to the point"),
    ],
)
def test_the_echo_in_words(text: str, words: str) -> None:
    line = parse_schedule(text, letters=LETTERS)
    assert line.unit is not None
    assert echo_schedule(line.schedule, line.unit, cords=line.cords, fate=line.fate) == words


def test_a_whole_whip_takes_fewer_than_200_keystrokes() -> None:
    lines = (
        "in: 6A; 12: -1 each 3 to 2 cut; 28: end",
        "in: 12A; 28: -2 tuck 3 gut; 40: -2; 45: end",
        "in: 8A+8B u2o2u2o2; 35: -2A -2B u3o3 run; 59: -4 u2o2; p",
    )
    assert sum(map(len, lines)) < 200
    assert [parse_schedule(line, letters=LETTERS).findings for line in lines] == [(), (), ()]
