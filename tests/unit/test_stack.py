"""Which layers lie at a station, worked by hand on one whip, and against a strand-by-strand count."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.notation import parse_fate, parse_schedule
from plaitlog.models.stack import Stack, layers_are_complete, stack_at
from plaitlog.models.whip import Cord, Fate, Foundation, Layer, LayerCord, Role, Span, Whip

CORDS = {
    name: Cord(name=name, material="nylon", construction="cored") for name in ("Ridge 4 mm", "Fell 3 mm")
}
LETTERS = {"A": "Ridge 4 mm", "B": "Fell 3 mm"}


def layer(role: Role, line: str, fate: str | None = None) -> Layer:
    read = parse_schedule(line, letters=LETTERS, point_mm=1830)
    own = read.fate if fate is None else parse_fate(fate)
    return Layer(role=role, cords=read.cords, schedule=read.schedule, fate=own)


CORE = layer("core", "mm: 6A; 300: -1; 380: -1; 460: -1; 540: -1; 700: end cut")
BELLY = layer("belly", "mm: 12A; 700: -2; 1000: -2; 1140: end", "tuck 80 mm gut")
BINDING = Layer(role="binding", thickness_mm=0.2, from_mm=0, to_mm=1200)
OVERLAY = layer("overlay", "mm: 8A+8B u2o2u2o2; 900: -2A -2B u3o3; 1500: -4 u2o2; p", "run")
WHIP = Whip(
    label="2026-014", status="finished", thong_length_mm=1830, layers=(CORE, BELLY, BINDING, OVERLAY)
)  # fmt: skip


def rows(stack: Stack) -> list[tuple[str, list[tuple[str, float, float, bool]]]]:
    """Role, and (cord, low, high, gutted) of every group."""
    return [
        (x.role, [(g.cord.name, g.count.low, g.count.high, g.gutted) for g in x.groups]) for x in stack.layers
    ]


R, F = "Ridge 4 mm", "Fell 3 mm"
OPEN = layer("belly", "mm: 12A; 700: -2; ?")
BARE = Layer(role="belly", cords=(LayerCord(R),))


def test_every_layer_at_the_thick_end() -> None:
    assert rows(stack_at(WHIP, 0, CORDS)) == [
        ("core", [(R, 6, 6, False)]),
        ("belly", [(R, 12, 12, False)]),
        ("binding", []),
        ("overlay", [(R, 8, 8, False), (F, 8, 8, False)]),
    ]


def test_a_step_holds_from_its_place_until_the_next() -> None:
    for at_mm, strands in [(299.9, 6), (300, 5), (379, 5), (380, 4), (540, 2), (699, 2)]:
        assert stack_at(WHIP, at_mm, CORDS).layers[0].count == Span(strands, strands)
    assert stack_at(WHIP, 700, CORDS).layers[0].role == "filler"


def test_tucked_strands_are_filler_under_their_own_layer_for_as_long_as_they_reach() -> None:
    found = rows(stack_at(WHIP, 720, CORDS))
    assert found[:2] == [("filler", [(R, 2, 2, True)]), ("belly", [(R, 10, 10, False)])]
    assert rows(stack_at(WHIP, 780, CORDS))[0] == ("belly", [(R, 10, 10, False)])
    ended = rows(stack_at(WHIP, 1150, CORDS))
    assert ended[0] == ("filler", [(R, 8, 8, True)])
    assert [role for role, _ in ended] == ["filler", "binding", "filler", "overlay"]


def test_strands_that_run_on_add_up_to_the_point() -> None:
    at_point = rows(stack_at(WHIP, 1830, CORDS))
    assert at_point == [
        ("filler", [(R, 4, 4, False), (F, 4, 4, False)]),
        ("overlay", [(R, 4, 4, False), (F, 4, 4, False)]),
    ]


def test_cut_strands_leave_nothing_and_an_unknown_fate_counts_as_cut() -> None:
    bare = replace(WHIP, layers=(replace(CORE, fate=None),))
    assert rows(stack_at(bare, 310, CORDS)) == [("core", [(R, 5, 5, False)])]
    assert rows(stack_at(replace(WHIP, layers=(CORE,)), 310, CORDS)) == [("core", [(R, 5, 5, False)])]


def test_a_run_may_end_before_the_point_and_a_tuck_without_length_is_three_inches() -> None:
    run = replace(WHIP, layers=(replace(OVERLAY, fate=Fate("run", until_mm=1000)),))
    assert [x.role for x in stack_at(run, 999, CORDS).layers] == ["filler", "overlay"]
    assert [x.role for x in stack_at(run, 1000, CORDS).layers] == ["overlay"]
    tuck = replace(WHIP, layers=(replace(OVERLAY, fate=Fate("tuck")),))
    assert [x.role for x in stack_at(tuck, 970, CORDS).layers] == ["filler", "overlay"]
    assert [x.role for x in stack_at(tuck, 980, CORDS).layers] == ["overlay"]


def test_the_pattern_of_the_step_that_holds() -> None:
    patterns = [stack_at(WHIP, at, CORDS).layers[-1].pattern for at in (0, 899, 900, 1600)]
    assert patterns == ["u2o2u2o2", "u2o2u2o2", "u3o3", "u2o2"]


def test_an_inner_layer_as_it_lay_before_the_next_was_begun() -> None:
    inner = stack_at(WHIP, 150, CORDS, after_layer=2)
    assert [x.role for x in inner.layers] == ["core", "belly"]
    with pytest.raises(StackNotKnownError, match="layer 2 does not run at 1200 mm"):
        stack_at(WHIP, 1200, CORDS, after_layer=2)
    # Filler of a layer that has ended is not the layer itself.
    with pytest.raises(StackNotKnownError, match="layer 2 does not run"):
        stack_at(WHIP, 1150, CORDS, after_layer=2)
    with pytest.raises(StackNotKnownError, match="layer 1 does not run"):
        stack_at(WHIP, 800, CORDS, after_layer=1)


def test_layers_without_strands_run_between_their_places() -> None:
    rope = replace(WHIP, layers=(Layer(role="core", diameter_mm=9, from_mm=10, to_mm=500), OVERLAY))
    assert [x.role for x in stack_at(rope, 0, CORDS).layers] == ["overlay"]
    assert stack_at(rope, 10, CORDS).layers[0].diameter_mm == 9
    assert [x.role for x in stack_at(rope, 501, CORDS).layers] == ["overlay"]
    assert stack_at(WHIP, 1200, CORDS).layers[1].thickness_mm == 0.2
    open_end = replace(WHIP, layers=(Layer(role="binding", thickness_mm=0.2), OVERLAY))
    assert stack_at(open_end, 1830, CORDS).layers[0].role == "binding"


@pytest.mark.parametrize(
    ("foundation", "datum", "handle_mm", "at_mm", "expected"),
    [
        (Foundation(diameter_mm=8, to_mm=100), "handle end", None, 99, 8),
        (Foundation(diameter_mm=8, to_mm=100), "handle end", None, 101, 0),
        (Foundation(diameter_mm=8), "handle end", 200, 0, 0),
        (Foundation(diameter_mm=8), "butt", 200, 199, 8),
        (Foundation(diameter_mm=8), "butt", 200, 201, 0),
        ("none", "butt", 200, 100, 0),
        (None, "butt", 200, 100, 0),
    ],
)
def test_a_foundation_runs_to_its_end(
    foundation: Foundation | None, datum: str, handle_mm: float | None, at_mm: float, expected: float
) -> None:
    whip = replace(WHIP, foundation=foundation, datum=datum, handle_length_mm=handle_mm)  # type: ignore[arg-type]
    assert stack_at(whip, at_mm, CORDS).foundation_mm == expected


def test_the_handle_diameter_never_enters_a_stack() -> None:
    assert stack_at(replace(WHIP, handle_diameter_mm=22), 0, CORDS) == stack_at(WHIP, 0, CORDS)


def test_within_an_uncertain_place_both_counts_are_possible() -> None:
    belly = layer("belly", "mm: 12A; 700..860: -2 run; p")
    whip = replace(WHIP, layers=(belly,))
    assert stack_at(whip, 699, CORDS).layers[0].count == Span(12, 12)
    filler, plait = stack_at(whip, 800, CORDS).layers
    assert (filler.count, plait.count) == (Span(0, 2), Span(10, 12))
    filler, plait = stack_at(whip, 860, CORDS).layers
    assert (filler.count, plait.count) == (Span(2, 2), Span(10, 10))


def test_a_range_of_counts_shifted_as_a_whole_drops_an_exact_number() -> None:
    whip = replace(WHIP, layers=(layer("belly", "mm: 12..16A; 500: -2 run; 800: =6 run; p"),))
    filler, plait = stack_at(whip, 600, CORDS).layers
    assert (filler.count, plait.count) == (Span(2, 2), Span(10, 14))
    filler, plait = stack_at(whip, 900, CORDS).layers
    assert (filler.count, plait.count) == (Span(6, 10), Span(6, 6))


def test_a_range_that_does_not_change_for_one_cord_leaves_no_filler_of_it() -> None:
    whip = replace(WHIP, layers=(layer("overlay", "mm: 4..6A+8B; 500: -2B run; p"),))
    filler, _ = stack_at(whip, 600, CORDS).layers
    assert [(g.cord.name, g.count) for g in filler.groups] == [(F, Span(2, 2))]


@pytest.mark.parametrize(
    ("whip", "complete"),
    [
        (WHIP, True),
        (replace(WHIP, status=None), False),
        (replace(WHIP, status=None, layers_complete=True), True),
        (replace(WHIP, layers_complete=False), False),
        (replace(WHIP, layers=()), False),
        (replace(WHIP, layers=(CORE, Layer(role="belly"))), False),
        (replace(WHIP, layers=(OPEN,)), False),
        (replace(WHIP, layers=(BINDING, OVERLAY)), True),
    ],
)
def test_whether_the_listed_layers_are_all_there_are(whip: Whip, complete: bool) -> None:
    assert layers_are_complete(whip) is complete
    if not complete:
        with pytest.raises(StackNotKnownError, match="not noted that the listed layers are all"):
            stack_at(whip, 0, CORDS)


@pytest.mark.parametrize(
    ("whip", "at_mm", "code"),
    [
        (WHIP, 1831, "past-point"),
        (replace(WHIP, layers=(BARE,), layers_complete=True), 0, "schedule-unknown"),
        (replace(WHIP, layers=(replace(OVERLAY, cords=()),)), 0, "cord-not-noted"),
        (replace(WHIP, layers=(OPEN,), layers_complete=True), 701, "schedule-open"),
        (replace(WHIP, layers=(CORE,)), 900, "empty-stack"),
    ],
)  # fmt: skip
def test_a_stack_that_is_not_known_says_why(whip: Whip, at_mm: float, code: str) -> None:
    with pytest.raises(StackNotKnownError) as caught:
        stack_at(whip, at_mm, CORDS)
    assert caught.value.finding.code == code


def test_a_cord_that_is_not_there_is_named() -> None:
    with pytest.raises(StackNotKnownError, match="Fell 3 mm"):
        stack_at(WHIP, 0, {R: CORDS[R]})


@given(
    start=st.integers(6, 24),
    drops=st.lists(st.tuples(st.integers(20, 150), st.integers(1, 3)), max_size=6),
    kind=st.sampled_from(["cut", "tuck 80", "run", "run until 900"]),
    at_mm=st.integers(0, 1200),
)
def test_strands_counted_one_by_one(start: int, drops: list[tuple[int, int]], kind: str, at_mm: int) -> None:
    """Every strand has a place where it leaves the plait and one where it ends inside."""
    place, left, strands = 0, start, []
    line = [f"{start}A"]
    for further, count in drops:
        if left - count < 1:
            break
        place += further
        left -= count
        end = {"cut": place, "tuck 80": place + 80, "run": 10**6, "run until 900": 900}[kind]
        strands += [(place, end)] * count
        line.append(f"{place}: -{count} {kind}")
    strands += [(10**6, 10**6)] * left
    whip = replace(WHIP, layers=(layer("overlay", f"mm: {'; '.join(line)}; p"),))
    stack = stack_at(whip, float(at_mm), CORDS)
    plaited = sum(at_mm < leaves for leaves, _ in strands)
    inside = sum(leaves <= at_mm < ends for leaves, ends in strands)
    assert stack.layers[-1].count.low == plaited
    assert sum(x.count.low for x in stack.layers[:-1]) == inside
