"""Nouns to rows, through the journal: makers, cords, stock, whips."""

from collections.abc import Sequence
from typing import Any

from plaitlog.models.tables import CordRow, CordStockRow, MakerRow, WhipRow
from plaitlog.models.whip import NONE, Cord, CordStock, Foundation, RatingSession, Whip
from plaitlog.service.usecases.changes.journal import Journal, Row
from plaitlog.service.usecases.storing_measured import insert_ratings, insert_readings, remove_rating
from plaitlog.service.usecases.storing_parts import Keys, fields, insert_parts, replace_parts, typed
from plaitlog.service.usecases.to_records import (
    cord_record,
    is_short,
    maker_record,
    rating_record,
    stock_record,
    whip_record,
)

_CORD = (
    "name", "material", "construction", "diameter_mm", "pressed_mm", "flat_width_mm",
    "linear_density_g_per_m", "fibre_density_g_per_cm3", "supplier", "price_per_m", "notes",
)  # fmt: skip
_STOCK = ("colour", "lot", "metres", "price_per_m", "notes")
_WHIP = (
    "label", "type", "status", "made_on", "build_number", "datum", "thong_length_mm", "quoted_length",
    "handle_length_mm", "handle_diameter_mm", "layers_complete", "hours", "fall", "cracker", "plan", "notes",
)  # fmt: skip


def add_makers(journal: Journal, names: Sequence[str]) -> Sequence[int]:
    rows = [(journal.entry("maker", name, None, maker_record(name)), {"name": name}) for name in names]
    return journal.insert(MakerRow, rows)


def rename_maker(journal: Journal, key: int, before: str, after: str) -> None:
    entry = journal.entry("maker", after, maker_record(before), maker_record(after), former_name=before)
    journal.update(entry, MakerRow, key, {"name": after})


def remove_maker(journal: Journal, key: int, name: str) -> None:
    journal.delete(journal.entry("maker", name, maker_record(name), None), MakerRow, [key])


def add_cords(journal: Journal, cords: Sequence[Cord]) -> Sequence[int]:
    rows = [(journal.entry("cord", x.name, None, cord_record(x)), _cord_row(x)) for x in cords]
    return journal.insert(CordRow, rows)


def replace_cord(journal: Journal, key: int, before: Cord, after: Cord) -> None:
    entry = journal.entry(
        "cord", after.name, cord_record(before), cord_record(after), former_name=before.name
    )
    journal.update(entry, CordRow, key, _cord_row(after))


def remove_cord(journal: Journal, key: int, cord: Cord) -> None:
    """Remove a cord that no whip and no stock names."""
    journal.delete(journal.entry("cord", cord.name, cord_record(cord), None), CordRow, [key])


def _cord_row(cord: Cord) -> Row:
    return {**fields(cord, _CORD), "typed": typed(cord.typed)}


def add_stock(journal: Journal, stock: Sequence[CordStock], cords: Keys) -> Sequence[int]:
    rows = [(journal.entry("stock", x.cord, None, stock_record(x)), _stock_row(x, cords)) for x in stock]
    return journal.insert(CordStockRow, rows)


def replace_stock(journal: Journal, key: int, before: CordStock, after: CordStock, cords: Keys) -> None:
    entry = journal.entry(
        "stock", after.cord, stock_record(before), stock_record(after), former_name=before.cord
    )
    journal.update(entry, CordStockRow, key, _stock_row(after, cords))


def remove_stock(journal: Journal, key: int, stock: CordStock) -> None:
    journal.delete(journal.entry("stock", stock.cord, stock_record(stock), None), CordStockRow, [key])


def _stock_row(stock: CordStock, cords: Keys) -> Row:
    return {"cord_id": cords[stock.cord], **fields(stock, _STOCK)}


def add_whips(journal: Journal, whips: Sequence[Whip], makers: Keys, cords: Keys) -> Sequence[int]:
    """Insert whips with all their parts; every maker and cord they name has a key.

    What ``for_later`` tells of them is left to the caller, for when every whip is in the workshop.
    """
    entries = [journal.entry("whip", whip.label, None, whip_record(whip)) for whip in whips]
    rows = [(entry, _whip_row(whip, makers)) for entry, whip in zip(entries, whips, strict=True)]
    keys = journal.insert(WhipRow, rows)
    owned = list(zip(entries, keys, whips, strict=True))
    insert_parts(journal, owned, cords)
    insert_readings(journal, [(entry, key, x) for entry, key, whip in owned for x in whip.readings])
    insert_ratings(
        journal,
        [
            # The short rating stands within its whip; a session is a record of its own.
            (
                entry
                if is_short(x)
                else journal.entry("rating", whip.label, None, rating_record(whip.label, x)),
                key,
                x,
            )
            for entry, key, whip in owned
            for x in whip.ratings
            if x not in for_later(whip)
        ],
    )
    return keys


def for_later(whip: Whip) -> tuple[RatingSession, ...]:
    """The rating sessions of a whip that was thrown beside another, which may not be stored yet."""
    if all(x.compared_with is None for x in whip.ratings):
        return ()
    return tuple(x for x in whip.ratings if not is_short(x))


def replace_whip(journal: Journal, key: int, before: Whip, after: Whip, makers: Keys, cords: Keys) -> None:
    """Write a whip's own columns, and those parts anew that changed; its readings and ratings stay."""
    entry = journal.entry(
        "whip", after.label, own_record(before), own_record(after), former_name=before.label
    )
    journal.update(entry, WhipRow, key, _whip_row(after, makers))
    replace_parts(journal, entry, key, before, after, cords)


def remove_whip(journal: Journal, key: int, whip: Whip, rating_keys: Sequence[int]) -> None:
    """Remove a whip with all its parts, readings and ratings; ``rating_keys`` in their order."""
    for rating_key, rating in zip(rating_keys, whip.ratings, strict=True):
        if not is_short(rating):
            remove_rating(journal, rating_key, key, whip.label, rating)
    journal.delete(journal.entry("whip", whip.label, whip_record(whip), None), WhipRow, [key])


def own_record(whip: Whip) -> dict[str, Any]:
    """The whip's record without readings and ratings, which are changed one by one."""
    record = whip_record(whip)
    record.pop("readings", None)
    record.pop("ratings", None)
    return record


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
