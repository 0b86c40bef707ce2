"""Nouns to rows, in bulk: makers, cords, stock, whips."""

from collections.abc import Sequence

from sqlalchemy import delete, update
from sqlalchemy.orm import Session

from plaitlog.models.tables import (
    CordRow,
    CordStockRow,
    CordUseRow,
    LayerRow,
    MakerRow,
    TurnLengthRow,
    WeightRow,
    WhipRow,
)
from plaitlog.models.whip import NONE, Cord, CordStock, Foundation, Whip
from plaitlog.service.usecases.storing_parts import (
    Keys,
    Row,
    add_parts,
    add_ratings,
    add_readings,
    fields,
    insert_rows,
    insert_with_keys,
    typed,
)

_CORD = (
    "name", "material", "construction", "diameter_mm", "pressed_mm", "flat_width_mm",
    "linear_density_g_per_m", "fibre_density_g_per_cm3", "supplier", "price_per_m", "notes",
)  # fmt: skip
_STOCK = ("colour", "lot", "metres", "price_per_m", "notes")
_WHIP = (
    "label", "type", "status", "made_on", "build_number", "datum", "thong_length_mm", "quoted_length",
    "handle_length_mm", "handle_diameter_mm", "layers_complete", "hours", "fall", "cracker", "notes",
)  # fmt: skip


def add_makers(session: Session, names: Sequence[str]) -> list[int]:
    return insert_with_keys(session, MakerRow, [{"name": name} for name in names])


def add_cords(session: Session, cords: Sequence[Cord]) -> list[int]:
    return insert_with_keys(session, CordRow, [_cord_row(cord) for cord in cords])


def replace_cord(session: Session, key: int, cord: Cord) -> None:
    session.execute(
        update(CordRow).where(CordRow.id == key).values(**_cord_row(cord), version=CordRow.version + 1)
    )


def _cord_row(cord: Cord) -> Row:
    return {**fields(cord, _CORD), "typed": typed(cord.typed)}


def add_stock(session: Session, stock: Sequence[CordStock], cords: Keys) -> None:
    insert_rows(session, CordStockRow, [{"cord_id": cords[x.cord], **fields(x, _STOCK)} for x in stock])


def replace_stock(session: Session, key: int, stock: CordStock) -> None:
    session.execute(
        update(CordStockRow)
        .where(CordStockRow.id == key)
        .values(**fields(stock, _STOCK), version=CordStockRow.version + 1)
    )


def add_whips(session: Session, whips: Sequence[Whip], makers: Keys, cords: Keys) -> list[int]:
    """Insert whips with all their parts; every maker and cord they name has a key."""
    keys = insert_with_keys(session, WhipRow, [_whip_row(whip, makers) for whip in whips])
    owned = list(zip(keys, whips, strict=True))
    add_parts(session, owned, cords)
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
    add_parts(session, [(key, whip)], cords)


def _whip_row(whip: Whip, makers: Keys) -> Row:
    foundation = whip.foundation
    given = foundation if isinstance(foundation, Foundation) else None
    balance = whip.balance
    return {
        **fields(whip, _WHIP),
        "maker_id": None if whip.maker is None else makers[whip.maker],
        "foundation_known": None if foundation is None else ("none" if given is None else "given"),
        "foundation_diameter_mm": given and given.diameter_mm,
        "foundation_to_mm": given and given.to_mm,
        "foundation_material": given and given.material,
        "foundation_typed": given and typed(given.typed),
        "finish": NONE if whip.finish == NONE else whip.finish and list(whip.finish),
        "balance_at_mm": balance and balance.at_mm,
        "balance_from": balance and balance.counted_from,
        "balance_how": balance and balance.how,
        "balance_typed": balance and typed(balance.typed),
        "typed": typed(whip.typed),
    }
