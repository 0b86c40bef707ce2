"""Rows to nouns: the same number of queries for one whip as for hundreds."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
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
from plaitlog.models.whip import Cord, CordStock, CordUse, TurnLength, Weight, Whip
from plaitlog.service.usecases.from_rows import (
    Rows,
    cord_from_row,
    layer_from_row,
    rating_from_row,
    reading_from_row,
    whip_from_row,
    words_from_column,
)

AT_ONCE: Final = 400
"""Whips loaded together: few enough for the parameters of one statement on either kind of database."""

Item = TypeVar("Item")


def in_parts(items: Iterable[Item], size: int = AT_ONCE) -> Iterator[list[Item]]:
    """The items in lists of at most ``size``."""
    rest = iter(items)
    while part := list(islice(rest, size)):
        yield part


def load_cords(session: Session) -> dict[int, Cord]:
    """Every cord by its key."""
    return {
        row.id: cord_from_row(row)
        for row in session.execute(select(*CordRow.__table__.c).order_by(CordRow.id))
    }


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


def labels_by_key(session: Session, keys: Iterable[int]) -> dict[int, str]:
    return {
        key: label
        for part in in_parts(keys)
        for key, label in session.execute(select(WhipRow.id, WhipRow.label).where(WhipRow.id.in_(part)))
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
    beside = labels_by_key(
        session, {row.compared_with_id for rows in found[RatingSessionRow].values() for row in rows} - {None}
    )
    rows = {row.id: row for row in session.execute(select(*WhipRow.__table__.c).where(WhipRow.id.in_(keys)))}
    return {
        key: whip_from_row(
            rows[key],
            makers,
            layers=tuple(
                layer_from_row(row, layer_cords[row.id], steps[row.id], counts, cords)
                for row in found[LayerRow][key]
            ),
            readings=tuple(reading_from_row(row) for row in found[ReadingRow][key]),
            turn_lengths=tuple(
                TurnLength(row.at_mm, row.turn_mm, row.after_layer, row.typed or {})
                for row in found[TurnLengthRow][key]
            ),
            weights=tuple(
                Weight(row.weight_g, words_from_column(row.with_parts), row.after_layer, row.typed or {})
                for row in found[WeightRow][key]
            ),
            cord_used=tuple(CordUse(cords[row.cord_id], row.metres) for row in found[CordUseRow][key]),
            ratings=tuple(
                rating_from_row(row, scores[row.id], beside) for row in found[RatingSessionRow][key]
            ),
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
