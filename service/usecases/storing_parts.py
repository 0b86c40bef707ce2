"""What a whip consists of, nouns to rows, through the journal: layers with schedules, other measurements."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final

from sqlalchemy import select

from plaitlog.models.tables import (
    Base,
    CordUseRow,
    LayerCordRow,
    LayerRow,
    StepCountRow,
    StepRow,
    TurnLengthRow,
    WeightRow,
)
from plaitlog.models.whip import NONE, Fate, Layer, Whip
from plaitlog.service.usecases.changes.journal import Entry, Journal, Row

Keys = Mapping[str, int]
"""Primary keys by name."""
Owned = Sequence[tuple[Entry, int, Whip]]
"""Whips, each with its entry in the journal and its key."""

_LAYER = ("role", "diameter_mm", "thickness_mm", "from_mm", "to_mm", "what", "notes")


def fields(noun: object, names: Iterable[str]) -> Row:
    return {name: getattr(noun, name) for name in names}


def typed(texts: Mapping[str, str]) -> dict[str, str] | None:
    return dict(texts) or None


def insert_parts(journal: Journal, owned: Owned, cords: Keys) -> None:
    """Insert all parts of new whips; every cord they name has a key."""
    for _, _, insert in _PARTS:
        insert(journal, owned, cords)


def replace_parts(journal: Journal, entry: Entry, key: int, before: Whip, after: Whip, cords: Keys) -> None:
    """Write those parts of a whip anew that changed."""
    for part, table, insert in _PARTS:
        if getattr(before, part) != getattr(after, part):
            old = select(table.__table__.c.id).where(table.__table__.c.whip_id == key)
            journal.delete(entry, table, journal.session.scalars(old.order_by(table.__table__.c.id)))
            insert(journal, [(entry, key, after)], cords)


def _insert_turn_lengths(journal: Journal, owned: Owned, cords: Keys) -> None:
    rows = [
        (entry, {**fields(x, ("at_mm", "turn_mm", "after_layer")), "whip_id": key, "typed": typed(x.typed)})
        for entry, key, whip in owned
        for x in whip.turn_lengths
    ]
    journal.insert(TurnLengthRow, rows)


def _insert_weights(journal: Journal, owned: Owned, cords: Keys) -> None:
    rows = [
        (
            entry,
            {
                **fields(x, ("weight_g", "after_layer")),
                "with_parts": NONE if x.with_parts == NONE else x.with_parts and list(x.with_parts),
                "whip_id": key,
                "typed": typed(x.typed),
            },
        )
        for entry, key, whip in owned
        for x in whip.weights
    ]
    journal.insert(WeightRow, rows)


def _insert_cord_used(journal: Journal, owned: Owned, cords: Keys) -> None:
    rows = [
        (entry, {"whip_id": key, "cord_id": cords[use.cord], "metres": use.metres})
        for entry, key, whip in owned
        for use in whip.cord_used
    ]
    journal.insert(CordUseRow, rows)


def _insert_layers(journal: Journal, owned: Owned, cords: Keys) -> None:
    layers = [
        (entry, layer, _layer_row(key, position, layer))
        for entry, key, whip in owned
        for position, layer in enumerate(whip.layers, start=1)
    ]
    keys = journal.insert(LayerRow, [(entry, row) for entry, _, row in layers])
    placed = [(entry, key, layer) for key, (entry, layer, _) in zip(keys, layers, strict=True)]
    journal.insert(
        LayerCordRow,
        [
            (
                entry,
                {
                    "layer_id": key,
                    "position": position,
                    "cord_id": cords[cord.cord],
                    "share": cord.share,
                    "letter": cord.letter,
                    "lot": cord.lot,
                },
            )
            for entry, key, layer in placed
            for position, cord in enumerate(layer.cords, start=1)
        ],
    )
    steps = [
        (
            entry,
            step,
            {
                "layer_id": key,
                "position": position,
                "place_kind": step.place.kind,
                "place_low_mm": step.place.low_mm,
                "place_high_mm": step.place.high_mm,
                "pattern": step.pattern,
                **_fate_columns(step.fate),
            },
        )
        for entry, key, layer in placed
        if layer.schedule is not None
        for position, step in enumerate(layer.schedule.steps, start=1)
    ]
    step_keys = journal.insert(StepRow, [(entry, row) for entry, _, row in steps])
    journal.insert(
        StepCountRow,
        [
            (entry, {"step_id": key, "cord_position": position, "low": count.low, "high": count.high})
            for key, (entry, step, _) in zip(step_keys, steps, strict=True)
            for position, count in enumerate(step.counts, start=1)
        ],
    )


def _layer_row(whip_key: int, position: int, layer: Layer) -> Row:
    return {
        **fields(layer, _LAYER),
        "whip_id": whip_key,
        "position": position,
        "rest": layer.schedule and layer.schedule.rest,
        "typed": typed(layer.typed),
        **_fate_columns(layer.fate),
    }


def _fate_columns(fate: Fate | None) -> Row:
    return {
        "fate": fate and fate.kind,
        "fate_length_mm": fate and fate.length_mm,
        "fate_gutted": fate and fate.gutted,
        "fate_until_mm": fate and fate.until_mm,
    }


_PARTS: Final[Sequence[tuple[str, type[Base], Callable[[Journal, Owned, Keys], Any]]]] = (
    ("turn_lengths", TurnLengthRow, _insert_turn_lengths),
    ("weights", WeightRow, _insert_weights),
    ("cord_used", CordUseRow, _insert_cord_used),
    ("layers", LayerRow, _insert_layers),
)
"""Field of a whip, its table, and what inserts it."""
