"""Nouns to rows: makers, cords, stock, whips with all their parts, in bulk."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import delete, insert, update
from sqlalchemy.orm import Session

from plaitlog.models.tables import (
    Base,
    CordRow,
    CordStockRow,
    CordUseRow,
    LayerCordRow,
    LayerRow,
    MakerRow,
    RatingSessionRow,
    ReadingRow,
    ScoreRow,
    StepCountRow,
    StepRow,
    TurnLengthRow,
    WeightRow,
    WhipRow,
)
from plaitlog.models.whip import (
    FEELS,
    NONE,
    NOT_TRIED,
    Cord,
    CordStock,
    Fate,
    Foundation,
    Layer,
    RatingSession,
    Reading,
    Whip,
)
from plaitlog.service.usecases.places import unplaced

Row = dict[str, Any]
Keys = Mapping[str, int]
"""Primary keys by name."""

_CORD = (
    "name", "material", "construction", "diameter_mm", "pressed_mm", "flat_width_mm",
    "linear_density_g_per_m", "fibre_density_g_per_cm3", "supplier", "price_per_m", "notes",
)  # fmt: skip
_STOCK = ("colour", "lot", "metres", "price_per_m", "notes")
_WHIP = (
    "label", "type", "status", "made_on", "build_number", "datum", "thong_length_mm", "quoted_length",
    "handle_length_mm", "handle_diameter_mm", "layers_complete", "hours", "fall", "cracker", "notes",
)  # fmt: skip
_LAYER = ("role", "diameter_mm", "thickness_mm", "from_mm", "to_mm", "what", "notes")
_READING = (
    "at_mm", "place", "diameter_mm", "girth_mm", "tape_mm", "after_layer", "condition", "doubtful", "on",
    "notes",
)  # fmt: skip
_SESSION = ("by", "on", "hours_of_use", "fall", "cracker", "notes")


def _fields(noun: object, names: Iterable[str]) -> Row:
    return {name: getattr(noun, name) for name in names}


def _typed(texts: Mapping[str, str]) -> dict[str, str] | None:
    return dict(texts) or None


def _insert_with_keys(session: Session, table: type[Base], rows: Sequence[Row]) -> list[int]:
    """Insert rows and give their primary keys in the same order."""
    if not rows:
        return []
    key = table.__table__.c.id
    return list(session.scalars(insert(table).returning(key, sort_by_parameter_order=True), rows))


def _insert(session: Session, table: type[Base], rows: Sequence[Row]) -> None:
    if rows:
        session.execute(insert(table), rows)


def add_makers(session: Session, names: Sequence[str]) -> list[int]:
    return _insert_with_keys(session, MakerRow, [{"name": name} for name in names])


def add_cords(session: Session, cords: Sequence[Cord]) -> list[int]:
    return _insert_with_keys(session, CordRow, [_cord_row(cord) for cord in cords])


def replace_cord(session: Session, key: int, cord: Cord) -> None:
    session.execute(
        update(CordRow).where(CordRow.id == key).values(**_cord_row(cord), version=CordRow.version + 1)
    )


def _cord_row(cord: Cord) -> Row:
    return {**_fields(cord, _CORD), "typed": _typed(cord.typed)}


def add_stock(session: Session, stock: Sequence[CordStock], cords: Keys) -> None:
    _insert(session, CordStockRow, [{"cord_id": cords[x.cord], **_fields(x, _STOCK)} for x in stock])


def replace_stock(session: Session, key: int, stock: CordStock) -> None:
    session.execute(
        update(CordStockRow)
        .where(CordStockRow.id == key)
        .values(**_fields(stock, _STOCK), version=CordStockRow.version + 1)
    )


def add_whips(session: Session, whips: Sequence[Whip], makers: Keys, cords: Keys) -> list[int]:
    """Insert whips with all their parts; every maker and cord they name has a key."""
    keys = _insert_with_keys(session, WhipRow, [_whip_row(whip, makers) for whip in whips])
    owned = list(zip(keys, whips, strict=True))
    _add_parts(session, owned, cords)
    add_readings(session, [(key, reading) for key, whip in owned for reading in whip.readings])
    add_ratings(session, [(key, rating) for key, whip in owned for rating in whip.ratings])
    return keys


def replace_whip(session: Session, key: int, whip: Whip, makers: Keys, cords: Keys) -> None:
    """Write a whip's own columns and parts anew; its readings and ratings are left as they are."""
    session.execute(
        update(WhipRow)
        .where(WhipRow.id == key)
        .values(**_whip_row(whip, makers), version=WhipRow.version + 1)
    )
    for part in (LayerRow, TurnLengthRow, WeightRow, CordUseRow):
        session.execute(delete(part).where(part.whip_id == key))
    _add_parts(session, [(key, whip)], cords)


def _whip_row(whip: Whip, makers: Keys) -> Row:
    foundation = whip.foundation
    given = foundation if isinstance(foundation, Foundation) else None
    balance = whip.balance
    return {
        **_fields(whip, _WHIP),
        "maker_id": None if whip.maker is None else makers[whip.maker],
        "foundation_known": None if foundation is None else ("none" if given is None else "given"),
        "foundation_diameter_mm": given and given.diameter_mm,
        "foundation_to_mm": given and given.to_mm,
        "foundation_material": given and given.material,
        "foundation_typed": given and _typed(given.typed),
        "finish": NONE if whip.finish == NONE else whip.finish and list(whip.finish),
        "balance_at_mm": balance and balance.at_mm,
        "balance_from": balance and balance.counted_from,
        "balance_how": balance and balance.how,
        "balance_typed": balance and _typed(balance.typed),
        "typed": _typed(whip.typed),
    }


def _add_parts(session: Session, owned: Sequence[tuple[int, Whip]], cords: Keys) -> None:
    _insert(
        session,
        TurnLengthRow,
        [
            {**_fields(x, ("at_mm", "turn_mm", "after_layer")), "whip_id": key, "typed": _typed(x.typed)}
            for key, whip in owned
            for x in whip.turn_lengths
        ],
    )
    _insert(
        session,
        WeightRow,
        [
            {
                **_fields(x, ("weight_g", "after_layer")),
                "with_parts": NONE if x.with_parts == NONE else x.with_parts and list(x.with_parts),
                "whip_id": key,
                "typed": _typed(x.typed),
            }
            for key, whip in owned
            for x in whip.weights
        ],
    )
    _insert(
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
    keys = _insert_with_keys(session, LayerRow, [row for _, row in layers])
    placed = [(key, layer) for key, (layer, _) in zip(keys, layers, strict=True)]
    _insert(
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
    step_keys = _insert_with_keys(session, StepRow, [row for _, row in steps])
    _insert(
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
        **_fields(layer, _LAYER),
        "whip_id": whip_key,
        "position": position,
        "rest": layer.schedule and layer.schedule.rest,
        "typed": _typed(layer.typed),
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
    _insert(
        session,
        ReadingRow,
        [{**_fields(unplaced(x), _READING), "whip_id": key, "typed": _typed(x.typed)} for key, x in readings],
    )


def add_ratings(session: Session, ratings: Sequence[tuple[int, RatingSession]]) -> None:
    """Append rating sessions, each with the key of its whip."""
    keys = _insert_with_keys(
        session, RatingSessionRow, [{**_session_row(x), "whip_id": key} for key, x in ratings]
    )
    _insert(
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
    _insert(session, ScoreRow, _score_rows(key, rating))


def _session_row(rating: RatingSession) -> Row:
    return {**_fields(rating, _SESSION), **{feel: rating.feel.get(feel) for feel in FEELS}}


def _score_rows(key: int, rating: RatingSession) -> list[Row]:
    return [
        {"session_id": key, "quality": quality, "score": None if score == NOT_TRIED else score}
        for quality, score in rating.scores.items()
    ]
