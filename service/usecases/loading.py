"""Rows to nouns: the same number of queries for one whip as for hundreds."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import islice
from typing import Any, Final, TypeVar

from sqlalchemy import ColumnElement, Row, select
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
    NOT_TRIED,
    Balance,
    Cord,
    CordStock,
    CordUse,
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
    TurnLength,
    Weight,
    Whip,
)
from plaitlog.service.usecases.places import placed

AT_ONCE: Final = 400
"""Whips loaded together: few enough for the parameters of one statement on either kind of database."""

Item = TypeVar("Item")
Rows = Mapping[int, Sequence[Row[Any]]]
"""Rows by the key of what they belong to, in the order they were entered."""


def in_parts(items: Iterable[Item], size: int = AT_ONCE) -> Iterator[list[Item]]:
    """The items in lists of at most ``size``."""
    rest = iter(items)
    while part := list(islice(rest, size)):
        yield part


def load_cords(session: Session) -> dict[int, Cord]:
    """Every cord by its key."""
    return {row.id: _cord(row) for row in session.execute(select(*CordRow.__table__.c).order_by(CordRow.id))}


def load_stock(session: Session) -> dict[int, CordStock]:
    """All stock by its key."""
    names = cord_names(session)
    return {
        row.id: CordStock(
            cord=names[row.cord_id],
            colour=row.colour,
            lot=row.lot,
            metres=row.metres,
            price_per_m=row.price_per_m,
            notes=row.notes,
        )
        for row in session.execute(select(*CordStockRow.__table__.c).order_by(CordStockRow.id))
    }


def maker_keys(session: Session) -> dict[str, int]:
    return {name: key for key, name in session.execute(select(MakerRow.id, MakerRow.name))}


def cord_keys(session: Session) -> dict[str, int]:
    return {name: key for key, name in session.execute(select(CordRow.id, CordRow.name))}


def cord_names(session: Session) -> dict[int, str]:
    return {key: name for name, key in cord_keys(session).items()}


def whip_keys(session: Session, labels: Iterable[str] | None = None) -> dict[str, int]:
    """Keys by label, of all whips or of those among ``labels`` that are in the workshop."""
    columns = select(WhipRow.id, WhipRow.label)
    if labels is None:
        return {label: key for key, label in session.execute(columns)}
    return {
        label: key
        for part in in_parts(labels)
        for key, label in session.execute(columns.where(WhipRow.label.in_(part)))
    }


def load_whips(session: Session, keys: Sequence[int]) -> dict[int, Whip]:
    """Whips by key with all their parts, in the order of ``keys``; call it for ``AT_ONCE`` at a time.

    Readings at named places have the station that the whip's lengths give them.
    """
    makers = {key: name for name, key in maker_keys(session).items()}
    cords = cord_names(session)
    of_whips = (TurnLengthRow, WeightRow, CordUseRow, LayerRow, ReadingRow, RatingSessionRow)
    found = {table: _owned(session, table, "whip_id", table.whip_id.in_(keys)) for table in of_whips}
    layers = select(LayerRow.id).where(LayerRow.whip_id.in_(keys))
    layer_cords = _owned(session, LayerCordRow, "layer_id", LayerCordRow.layer_id.in_(layers))
    steps = _owned(session, StepRow, "layer_id", StepRow.layer_id.in_(layers))
    in_layers = select(StepRow.id).where(StepRow.layer_id.in_(layers))
    counts = _owned(session, StepCountRow, "step_id", StepCountRow.step_id.in_(in_layers))
    sessions = select(RatingSessionRow.id).where(RatingSessionRow.whip_id.in_(keys))
    scores = _owned(session, ScoreRow, "session_id", ScoreRow.session_id.in_(sessions))
    rows = {row.id: row for row in session.execute(select(*WhipRow.__table__.c).where(WhipRow.id.in_(keys)))}
    return {
        key: _whip(
            rows[key],
            makers,
            layers=tuple(
                _layer(row, layer_cords[row.id], steps[row.id], counts, cords) for row in found[LayerRow][key]
            ),
            readings=tuple(_reading(row) for row in found[ReadingRow][key]),
            turn_lengths=tuple(
                TurnLength(row.at_mm, row.turn_mm, row.after_layer, row.typed or {})
                for row in found[TurnLengthRow][key]
            ),
            weights=tuple(
                Weight(row.weight_g, _words(row.with_parts), row.after_layer, row.typed or {})
                for row in found[WeightRow][key]
            ),
            cord_used=tuple(CordUse(cords[row.cord_id], row.metres) for row in found[CordUseRow][key]),
            ratings=tuple(_rating(row, scores[row.id]) for row in found[RatingSessionRow][key]),
        )
        for key in keys
    }


def rating_keys(session: Session, whip: int) -> list[int]:
    """Keys of a whip's rating sessions, in the order in which ``load_whips`` lists them."""
    return list(
        session.scalars(
            select(RatingSessionRow.id).where(RatingSessionRow.whip_id == whip).order_by(RatingSessionRow.id)
        )
    )


def _owned(session: Session, table: type[Base], owner: str, which: ColumnElement[bool]) -> Rows:
    columns = table.__table__.c
    grouped: defaultdict[int, list[Row[Any]]] = defaultdict(list)
    for row in session.execute(select(*columns).where(which).order_by(columns.id)):
        grouped[getattr(row, owner)].append(row)
    return grouped


def _cord(row: Row[Any]) -> Cord:
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


def _whip(row: Row[Any], makers: Mapping[int, str], **parts: Any) -> Whip:
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
        finish=_words(row.finish),
        balance=_balance(row),
        hours=row.hours,
        fall=row.fall,
        cracker=row.cracker,
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


def _words(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


def _layer(
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
        cords=tuple(LayerCord(cords[cord.cord_id], cord.share, cord.letter) for cord in its_cords),
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


def _reading(row: Row[Any]) -> Reading:
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


def _rating(row: Row[Any], scores: Sequence[Row[Any]]) -> RatingSession:
    return RatingSession(
        by=row.by,
        on=row.on,
        hours_of_use=row.hours_of_use,
        fall=row.fall,
        cracker=row.cracker,
        scores={score.quality: NOT_TRIED if score.score is None else score.score for score in scores},
        feel={feel: getattr(row, feel) for feel in FEELS if getattr(row, feel) is not None},
        notes=row.notes,
    )
