"""Rows to nouns, one by one."""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Row

from plaitlog.models.whip import (
    FEELS,
    NOT_TRIED,
    Balance,
    Cord,
    Fate,
    Foundation,
    Layer,
    LayerCord,
    Place,
    RatingSession,
    Reading,
    Span,
    Step,
    StrandSchedule,
    Whip,
)
from plaitlog.service.usecases.places import placed

Rows = Mapping[int, Sequence[Row[Any]]]
"""Rows by the key of what they belong to, in the order they were entered."""


def cord_from_row(row: Row[Any]) -> Cord:
    return Cord(
        name=row.name,
        material=row.material,
        construction=row.construction,
        diameter_mm=row.diameter_mm,
        pressed_mm=row.pressed_mm,
        flat_width_mm=row.flat_width_mm,
        linear_density_g_per_m=row.linear_density_g_per_m,
        fibre_density_g_per_cm3=row.fibre_density_g_per_cm3,
        supplier=row.supplier,
        price_per_m=row.price_per_m,
        notes=row.notes,
        typed=row.typed or {},
    )


def whip_from_row(row: Row[Any], makers: Mapping[int, str], **parts: Any) -> Whip:
    whip = Whip(
        label=row.label,
        maker=None if row.maker_id is None else makers[row.maker_id],
        type=row.type,
        status=row.status,
        made_on=row.made_on,
        build_number=row.build_number,
        datum=row.datum,
        thong_length_mm=row.thong_length_mm,
        quoted_length=row.quoted_length,
        handle_length_mm=row.handle_length_mm,
        handle_diameter_mm=row.handle_diameter_mm,
        foundation=_foundation(row),
        layers_complete=row.layers_complete,
        finish=words_from_column(row.finish),
        balance=_balance(row),
        hours=row.hours,
        fall=row.fall,
        cracker=row.cracker,
        plan=row.plan,
        notes=row.notes,
        typed=row.typed or {},
        **parts,
    )
    return placed(whip)


def _foundation(row: Row[Any]) -> Any:
    if row.foundation_known != "given":
        return row.foundation_known
    return Foundation(
        diameter_mm=row.foundation_diameter_mm,
        to_mm=row.foundation_to_mm,
        material=row.foundation_material,
        typed=row.foundation_typed or {},
    )


def _balance(row: Row[Any]) -> Balance | None:
    if row.balance_at_mm is None:
        return None
    return Balance(row.balance_at_mm, row.balance_from, row.balance_how, row.balance_typed or {})


def words_from_column(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


def layer_from_row(
    row: Row[Any],
    its_cords: Sequence[Row[Any]],
    its_steps: Sequence[Row[Any]],
    counts: Rows,
    cords: Mapping[int, str],
) -> Layer:
    schedule = None
    if row.rest is not None:
        schedule = StrandSchedule(tuple(_step(step, counts[step.id]) for step in its_steps), row.rest)
    return Layer(
        role=row.role,
        cords=tuple(LayerCord(cords[x.cord_id], x.share, x.letter, x.lot) for x in its_cords),
        schedule=schedule,
        fate=_fate(row),
        diameter_mm=row.diameter_mm,
        thickness_mm=row.thickness_mm,
        from_mm=row.from_mm,
        to_mm=row.to_mm,
        what=row.what,
        notes=row.notes,
        typed=row.typed or {},
    )


def _step(row: Row[Any], counts: Sequence[Row[Any]]) -> Step:
    return Step(
        Place(row.place_low_mm, row.place_high_mm, row.place_kind),
        tuple(Span(count.low, count.high) for count in counts),
        _fate(row),
        row.pattern,
    )


def _fate(row: Row[Any]) -> Fate | None:
    if row.fate is None:
        return None
    return Fate(row.fate, row.fate_length_mm, row.fate_gutted, row.fate_until_mm)


def reading_from_row(row: Row[Any]) -> Reading:
    return Reading(
        at_mm=row.at_mm,
        diameter_mm=row.diameter_mm,
        girth_mm=row.girth_mm,
        tape_mm=row.tape_mm,
        place=row.place,
        after_layer=row.after_layer,
        condition=row.condition,
        doubtful=row.doubtful,
        on=row.on,
        notes=row.notes,
        typed=row.typed or {},
    )


def rating_from_row(row: Row[Any], scores: Sequence[Row[Any]], labels: Mapping[int, str]) -> RatingSession:
    """``labels``: of whips by key, at least of the one that this one was thrown beside."""
    return RatingSession(
        by=row.by,
        on=row.on,
        hours_of_use=row.hours_of_use,
        fall=row.fall,
        cracker=row.cracker,
        compared_with=None if row.compared_with_id is None else labels[row.compared_with_id],
        scores={score.quality: _score(score) for score in scores},
        feel={feel: getattr(row, feel) for feel in FEELS if getattr(row, feel) is not None},
        notes=row.notes,
    )


def _score(row: Row[Any]) -> Any:
    if row.comparison is not None:
        return row.comparison
    return NOT_TRIED if row.score is None else row.score
