"""From nouns to records as they stand in a file: keys in fixed order, what is not known left out."""

import datetime as dt
import math
from collections.abc import Mapping
from typing import Any

from plaitlog.models.whip import (
    FEELS,
    NONE,
    QUALITIES,
    Balance,
    Cord,
    CordStock,
    Foundation,
    RatingSession,
    Reading,
    TurnLength,
    Weight,
    Whip,
)
from plaitlog.service.usecases.to_layer_records import layer_record, letters_of

Record = dict[str, Any]


def maker_record(name: str) -> Record:
    return {"kind": "maker", "name": name}


def cord_record(cord: Cord) -> Record:
    typed = cord.typed
    return known(
        kind="cord",
        name=cord.name,
        material=cord.material,
        construction=cord.construction,
        diameter_mm=cord.diameter_mm,
        diameter=typed.get("diameter"),
        pressed_mm=cord.pressed_mm,
        pressed=typed.get("pressed"),
        flat_width_mm=cord.flat_width_mm,
        flat_width=typed.get("flat_width"),
        linear_density_g_per_m=cord.linear_density_g_per_m,
        linear_density=typed.get("linear_density"),
        fibre_density_g_per_cm3=cord.fibre_density_g_per_cm3,
        fibre_density=typed.get("fibre_density"),
        supplier=cord.supplier,
        price_per_m=cord.price_per_m,
        notes=cord.notes,
    )


def stock_record(stock: CordStock) -> Record:
    return known(
        kind="stock",
        cord=stock.cord,
        colour=stock.colour,
        lot=stock.lot,
        metres=stock.metres,
        price_per_m=stock.price_per_m,
        notes=stock.notes,
    )


def whip_record(whip: Whip) -> Record:
    """One whip with everything nested; rating sessions with a date or another rater stand apart."""
    typed = whip.typed
    handle = NONE if whip.handle_length_mm == 0 else whip.handle_length_mm
    main = next((weight for weight in whip.weights if weight.after_layer is None), None)
    others = [weight for weight in whip.weights if weight is not main]
    own = next((rating for rating in whip.ratings if is_short(rating)), None)
    return known(
        kind="whip",
        label=whip.label,
        maker=whip.maker,
        type=whip.type,
        status=whip.status,
        made_on=whip.made_on,
        build_number=whip.build_number,
        datum=whip.datum,
        thong_length_mm=whip.thong_length_mm,
        thong_length=typed.get("thong_length"),
        quoted_length=whip.quoted_length,
        handle_length_mm=handle,
        handle_length=typed.get("handle_length"),
        handle_diameter_mm=whip.handle_diameter_mm,
        handle_diameter=typed.get("handle_diameter"),
        foundation=_foundation(whip.foundation),
        letters=letters_of(whip.layers) or None,
        layers=[layer_record(layer) for layer in whip.layers] or None,
        layers_complete=whip.layers_complete,
        readings=[reading_shape(reading) for reading in sorted(whip.readings, key=_by_station)] or None,
        readings_text=typed.get("readings"),
        turn_lengths=[_turn_length(turn) for turn in whip.turn_lengths] or None,
        finish=_words(whip.finish),
        weight_g=main and main.weight_g,
        weight=main and main.typed.get("weight"),
        weight_with=main and _words(main.with_parts),
        weights=[_weight(weight) for weight in others] or None,
        balance=None if whip.balance is None else _balance(whip.balance),
        hours=whip.hours,
        cord_used=[known(cord=use.cord, metres=use.metres) for use in whip.cord_used] or None,
        fall=whip.fall,
        cracker=whip.cracker,
        ratings=_in_order(own.scores, QUALITIES) if own else None,
        plan=whip.plan,
        notes=whip.notes,
    )


def reading_record(label: str, reading: Reading) -> Record:
    return {"kind": "reading", "whip": label, **reading_shape(reading)}


def reading_shape(reading: Reading) -> Record:
    typed = reading.typed
    return known(
        at_mm=reading.at_mm if reading.place is None else None,
        at=typed.get("at"),
        place="p" if reading.place == "point" else reading.place,
        diameter_mm=reading.diameter_mm,
        diameter=typed.get("diameter"),
        girth_mm=reading.girth_mm,
        girth=typed.get("girth"),
        tape_mm=reading.tape_mm,
        tape=typed.get("tape"),
        after_layer=reading.after_layer,
        condition=reading.condition,
        doubtful=reading.doubtful or None,
        on=reading.on,
        notes=reading.notes,
    )


def rating_record(label: str, rating: RatingSession) -> Record:
    return known(
        kind="rating",
        whip=label,
        by=rating.by,
        on=rating.on,
        hours_of_use=rating.hours_of_use,
        fall=rating.fall,
        cracker=rating.cracker,
        compared_with=rating.compared_with,
        scores=_in_order(rating.scores, QUALITIES),
        feel=_in_order(rating.feel, FEELS) or None,
        notes=rating.notes,
    )


def is_short(rating: RatingSession) -> bool:
    """Whether it is the maker's own rating without a session, which stands within its whip."""
    beside = (
        rating.by, rating.on, rating.hours_of_use, rating.fall, rating.cracker, rating.compared_with,
        rating.notes,
    )  # fmt: skip
    return not rating.feel and all(value is None for value in beside)


def known(**values: Any) -> Record:
    """What is known of the values, as JSON has them: whole numbers without a decimal point, dates as text."""
    return {key: plain(value) for key, value in values.items() if value is not None}


def plain(value: Any) -> Any:
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    return value


def _by_station(reading: Reading) -> tuple[float, float]:
    # A place without a station and a finished whip come last; entries at one station keep their order.
    return (
        math.inf if reading.at_mm is None else reading.at_mm,
        math.inf if reading.after_layer is None else reading.after_layer,
    )


def _foundation(foundation: Foundation | str | None) -> Record | str | None:
    if not isinstance(foundation, Foundation):
        return foundation
    return known(
        diameter_mm=foundation.diameter_mm,
        diameter=foundation.typed.get("diameter"),
        to_mm=foundation.to_mm,
        to=foundation.typed.get("to"),
        material=foundation.material,
    )


def _turn_length(turn: TurnLength) -> Record:
    return known(
        at_mm=turn.at_mm,
        at=turn.typed.get("at"),
        turn_mm=turn.turn_mm,
        turn=turn.typed.get("turn"),
        after_layer=turn.after_layer,
    )


def _weight(weight: Weight) -> Record:
    return known(
        weight_g=weight.weight_g,
        weight=weight.typed.get("weight"),
        **{"with": _words(weight.with_parts)},
        after_layer=weight.after_layer,
    )


def _balance(balance: Balance) -> Record:
    return known(
        at_mm=balance.at_mm,
        at=balance.typed.get("at"),
        **{"from": balance.counted_from},
        how=balance.how,
    )


def _words(value: tuple[str, ...] | str | None) -> list[str] | str | None:
    return list(value) if isinstance(value, tuple) else value


def _in_order(values: Mapping[str, Any], order: tuple[str, ...]) -> Record:
    return {name: plain(values[name]) for name in order if name in values}
