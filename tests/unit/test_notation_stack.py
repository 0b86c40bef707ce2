"""One stack on a line."""

import pytest

from plaitlog.models.errors import NotationError
from plaitlog.models.notation import TypedLayer, parse_stack
from plaitlog.models.whip import Span

LETTERS = {"A": "Ridge 4 mm", "B": "Fell 3 mm"}


def test_a_stack_from_the_inside_out() -> None:
    stack = parse_stack(
        "rod 8 mm; core 6A; filler 2A gut; binding 0.2 mm; overlay 8A+8B u2o2u2o2 turn 62 mm", letters=LETTERS
    )
    assert stack.foundation_mm == 8
    assert stack.layers == (
        TypedLayer("core", (("A", Span(6, 6)),)),
        TypedLayer("filler", (("A", Span(2, 2)),), gutted=True),
        TypedLayer("binding", thickness_mm=0.2),
        TypedLayer("overlay", (("A", Span(8, 8)), ("B", Span(8, 8))), pattern="u2o2u2o2", turn_mm=62),
    )


def test_roles_may_be_shortened_and_letters_left_out() -> None:
    stack = parse_stack("c 6; be 12..16; o 16")
    assert [(layer.role, layer.counts) for layer in stack.layers] == [
        ("core", (("", Span(6, 6)),)),
        ("belly", (("", Span(12, 16)),)),
        ("overlay", (("", Span(16, 16)),)),
    ]
    assert parse_stack("ov 16", letters={"A": "Ridge 4 mm"}).layers[0].counts == (("A", Span(16, 16)),)


@pytest.mark.parametrize(
    ("text", "diameter_mm", "thickness_mm"),
    [
        ("core 8 mm", 8, None),
        ("core 3/8 in", 9.525, None),
        ("core 1,5 mm thick", None, 1.5),
        ("bolster 2 mm", None, 2),
        ("binding 0.2mm", None, 0.2),
    ],
)
def test_layers_given_by_their_size(text: str, diameter_mm: float | None, thickness_mm: float | None) -> None:
    layer = parse_stack(text).layers[0]
    assert (layer.diameter_mm, layer.thickness_mm) == (diameter_mm, thickness_mm)


@pytest.mark.parametrize(
    ("text", "code", "where"),
    [
        ("", "stack-empty", 1),
        ("rod 8 mm", "stack-empty", 1),
        ("b 12A", "role-unknown", 1),
        ("12A", "role-unknown", 1),
        ("core 6A; rod 8 mm", "foundation-late", 10),
        ("rod 8; core 6A", "unit-missing", 5),
        ("rod 900 mm; core 6A", "size-unreadable", 5),
        ("core", "layer-empty", 1),
        ("overlay 16Q", "letter-unknown", 11),
        ("overlay 16", "count-letter", 9),
        ("overlay 16A frob", "stack-unreadable", 13),
        ("overlay 16A 8B", "stack-unreadable", 13),
    ],
)
def test_a_refusal_names_the_character_and_the_remedy(text: str, code: str, where: int) -> None:
    with pytest.raises(NotationError) as caught:
        parse_stack(text, letters=LETTERS)
    finding = caught.value.finding
    assert (finding.code, finding.where) == (code, f"character {where}")
    assert finding.remedy
