"""What hangs on whips, nouns to rows: layers with their schedules, readings, other measurements, ratings."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import delete, insert, update
from sqlalchemy.orm import Session

from plaitlog.models.tables import (
    Base,
    CordUseRow,
    LayerCordRow,
    LayerRow,
    RatingSessionRow,
    ReadingRow,
    ScoreRow,
    StepCountRow,
    StepRow,
    TurnLengthRow,
    WeightRow,
)
from plaitlog.models.whip import FEELS, NONE, NOT_TRIED, Fate, Layer, RatingSession, Reading, Whip
from plaitlog.service.usecases.places import unplaced

Row = dict[str, Any]
Keys = Mapping[str, int]
"""Primary keys by name."""

_LAYER = ("role", "diameter_mm", "thickness_mm", "from_mm", "to_mm", "what", "notes")
_READING = (
    "at_mm", "place", "diameter_mm", "girth_mm", "tape_mm", "after_layer", "condition", "doubtful", "on",
    "notes",
)  # fmt: skip
_SESSION = ("by", "on", "hours_of_use", "fall", "cracker", "notes")


def fields(noun: object, names: Iterable[str]) -> Row:
    return {name: getattr(noun, name) for name in names}


def typed(texts: Mapping[str, str]) -> dict[str, str] | None:
    return dict(texts) or None


def insert_with_keys(session: Session, table: type[Base], rows: Sequence[Row]) -> list[int]:
    """Insert rows and give their primary keys in the same order."""
    if not rows:
        return []
    key = table.__table__.c.id
    return list(session.scalars(insert(table).returning(key, sort_by_parameter_order=True), rows))


def insert_rows(session: Session, table: type[Base], rows: Sequence[Row]) -> None:
    if rows:
        session.execute(insert(table), rows)


def add_parts(session: Session, owned: Sequence[tuple[int, Whip]], cords: Keys) -> None:
    insert_rows(
        session,
        TurnLengthRow,
        [
            {**fields(x, ("at_mm", "turn_mm", "after_layer")), "whip_id": key, "typed": typed(x.typed)}
            for key, whip in owned
            for x in whip.turn_lengths
        ],
    )
    insert_rows(
        session,
        WeightRow,
        [
            {
                **fields(x, ("weight_g", "after_layer")),
                "with_parts": NONE if x.with_parts == NONE else x.with_parts and list(x.with_parts),
                "whip_id": key,
                "typed": typed(x.typed),
            }
            for key, whip in owned
            for x in whip.weights
        ],
    )
    insert_rows(
        session,
        CordUseRow,
        [
            {"whip_id": key, "cord_id": cords[use.cord], "metres": use.metres}
            for key, whip in owned
            for use in whip.cord_used
        ],
    )
    _add_layers(session, [(key, whip.layers) for key, whip in owned], cords)


def _add_layers(session: Session, owned: Sequence[tuple[int, tuple[Layer, ...]]], cords: Keys) -> None:
    layers = [
        (layer, _layer_row(key, position, layer))
        for key, listed in owned
        for position, layer in enumerate(listed, start=1)
    ]
    keys = insert_with_keys(session, LayerRow, [row for _, row in layers])
    placed = [(key, layer) for key, (layer, _) in zip(keys, layers, strict=True)]
    insert_rows(
        session,
        LayerCordRow,
        [
            {
                "layer_id": key,
                "position": position,
                "cord_id": cords[cord.cord],
                "share": cord.share,
                "letter": cord.letter,
            }
            for key, layer in placed
            for position, cord in enumerate(layer.cords, start=1)
        ],
    )
    steps = [
        (
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
        for key, layer in placed
        if layer.schedule is not None
        for position, step in enumerate(layer.schedule.steps, start=1)
    ]
    step_keys = insert_with_keys(session, StepRow, [row for _, row in steps])
    insert_rows(
        session,
        StepCountRow,
        [
            {"step_id": key, "cord_position": position, "low": count.low, "high": count.high}
            for key, (step, _) in zip(step_keys, steps, strict=True)
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


def add_readings(session: Session, readings: Sequence[tuple[int, Reading]]) -> None:
    """Append readings, each with the key of its whip."""
    insert_rows(
        session,
        ReadingRow,
        [{**fields(unplaced(x), _READING), "whip_id": key, "typed": typed(x.typed)} for key, x in readings],
    )


def add_ratings(session: Session, ratings: Sequence[tuple[int, RatingSession]]) -> None:
    """Append rating sessions, each with the key of its whip."""
    keys = insert_with_keys(
        session, RatingSessionRow, [{**_session_row(x), "whip_id": key} for key, x in ratings]
    )
    insert_rows(
        session,
        ScoreRow,
        [row for key, (_, x) in zip(keys, ratings, strict=True) for row in _score_rows(key, x)],
    )


def replace_rating(session: Session, key: int, rating: RatingSession) -> None:
    session.execute(
        update(RatingSessionRow)
        .where(RatingSessionRow.id == key)
        .values(**_session_row(rating), version=RatingSessionRow.version + 1)
    )
    session.execute(delete(ScoreRow).where(ScoreRow.session_id == key))
    insert_rows(session, ScoreRow, _score_rows(key, rating))


def _session_row(rating: RatingSession) -> Row:
    return {**fields(rating, _SESSION), **{feel: rating.feel.get(feel) for feel in FEELS}}


def _score_rows(key: int, rating: RatingSession) -> list[Row]:
    return [
        {"session_id": key, "quality": quality, "score": None if score == NOT_TRIED else score}
        for quality, score in rating.scores.items()
    ]
