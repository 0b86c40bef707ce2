"""Deciding, row by row, what becomes of each record of a file."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any, Final

from sqlalchemy.orm import Session

from plaitlog.models.counted import counted
from plaitlog.models.errors import Finding, nearest_or
from plaitlog.models.whip import Cord, CordStock
from plaitlog.service.schemas.cords import CordRecord, MakerRecord, StockRecord
from plaitlog.service.schemas.ratings import RatingRecord
from plaitlog.service.schemas.readings import ReadingRecord
from plaitlog.service.schemas.records import KINDS
from plaitlog.service.schemas.whips import WhipRecord
from plaitlog.service.usecases.from_measurements import reading_from
from plaitlog.service.usecases.from_records import (
    Refusals,
    cord_from,
    rating_from,
    stock_from,
)
from plaitlog.service.usecases.import_checks import judge
from plaitlog.service.usecases.import_plan import Change, Plan, Row, StockName
from plaitlog.service.usecases.import_report import RowOutcome
from plaitlog.service.usecases.loading import (
    in_parts,
    load_cords,
    load_stock,
    load_whips,
    maker_keys,
    whip_keys,
)
from plaitlog.service.usecases.merging import Merged, begin, take_in, with_rating
from plaitlog.service.usecases.to_records import cord_record, is_short, stock_record, whip_record


def plan_sound(
    session: Session,
    rows: Iterable[Row],
    rejected: Iterable[RowOutcome] = (),
    *,
    place: Callable[[int], str] = "line {}".format,
) -> tuple[Plan, list[RowOutcome]]:
    """A plan for the sound rows alone, and what became of all others.

    Leaving a row out can make others unsound (the readings of a whip), so it is decided again until
    nothing more is rejected.
    """
    left = list(rows)
    out = list(rejected)
    refused: list[RowOutcome] = []
    while True:
        plan = plan_import(session, left, [*out, *refused], place=place)
        found = [outcome for outcome in plan.outcomes if outcome.outcome == "rejected"]
        if not found:
            return plan, refused
        refused += found
        lines = {outcome.line for outcome in found}
        left = [row for row in left if row.line not in lines]


def plan_import(
    session: Session,
    rows: Iterable[Row],
    rejected: Iterable[RowOutcome] = (),
    *,
    place: Callable[[int], str] = "line {}".format,
) -> Plan:
    """Decide about every row; a cord or whip may stand on a later line than what needs it.

    ``rejected`` are rows that hold no record: what needs them is told so. ``place`` names a row.
    """
    by_kind: dict[str, list[Row]] = {kind: [] for kind in KINDS}
    for row in rows:
        by_kind[row.record.kind].append(row)
    owners = {_label(row.record) for kind in ("whip", "rating", "reading") for row in by_kind[kind]}
    beside = {
        record.compared_with
        for record in (row.record for row in by_kind["rating"])
        if isinstance(record, RatingRecord) and record.compared_with is not None
    }
    labels = owners | beside
    stored = whip_keys(session, labels)
    plan = Plan(
        makers=maker_keys(session),
        stored_cords={cord.name: (key, cord) for key, cord in load_cords(session).items()},
        stored_stock={_stock_name(stock): (key, stock) for key, stock in load_stock(session).items()},
        whip_keys=stored,
        seen={(row.kind, row.name): row.line for row in rejected},
        place=place,
    )
    if labels - stored.keys() - {_label(row.record) for row in by_kind["whip"]}:
        plan.all_labels = tuple(whip_keys(session))
    for part in in_parts(stored.values()):
        plan.whips.update({whip.label: begin(whip) for whip in load_whips(session, part).values()})
    for kind, rows_of_kind in by_kind.items():
        for row in rows_of_kind:
            _DECIDE[kind](plan, row, row.record)
    plan.outcomes.sort(key=lambda outcome: outcome.line)
    judge(plan.outcomes, plan.whips.values(), (change.after for change in plan.cords.values()))
    return plan


def _label(record: Any) -> str:
    return str(record.label if record.kind == "whip" else record.whip)


def _stock_name(stock: CordStock) -> StockName:
    return (stock.cord, stock.colour, stock.lot)


def _decide_maker(plan: Plan, row: Row, record: MakerRecord) -> None:
    if plan.is_repeated(row, record.name, record.name):
        return
    plan.decide(row, record.name, "there already" if record.name in plan.makers else "add")
    _need_maker(plan, record.name)


def _need_maker(plan: Plan, name: str) -> bool:
    """Whether the maker is new."""
    if name in plan.makers:
        return False
    plan.makers[name] = -1
    plan.new_makers.append(name)
    return True


def _decide_cord(plan: Plan, row: Row, record: CordRecord) -> None:
    if plan.is_repeated(row, record.name, record.name):
        return
    refusals = Refusals()
    stated = cord_from(record, refusals)
    key, before = plan.stored_cords.get(record.name, (None, None))
    start = before or Cord(name=record.name, material=record.material, construction=record.construction)
    after = stated.applied_to(start)
    if refusals.findings:
        plan.decide(row, record.name, "rejected", findings=refusals.findings)
        return
    plan.cords[record.name] = Change(key, before, after)
    _decide_by_record(
        plan, row, record.name, None if before is None else cord_record(before), cord_record(after)
    )


def _decide_stock(plan: Plan, row: Row, record: StockRecord) -> None:
    stock = stock_from(record)
    name = " ".join(part for part in _stock_name(stock) if part)
    if plan.is_repeated(row, name, *_stock_name(stock)):
        return
    if unknown := _unknown_cord(plan, stock.cord, "cord"):
        plan.decide(row, name, "rejected", findings=[unknown])
        return
    key, before = plan.stored_stock.get(_stock_name(stock), (None, None))
    after = (
        stock if before is None else replace(before, **record.model_dump(exclude={"kind"}, exclude_none=True))
    )
    plan.stock[_stock_name(stock)] = Change(key, before, after)
    _decide_by_record(plan, row, name, None if before is None else stock_record(before), stock_record(after))


def _decide_by_record(
    plan: Plan, row: Row, name: str, before: Mapping[str, Any] | None, after: Mapping[str, Any]
) -> None:
    if before is None:
        plan.decide(row, name, "add")
    elif changed := _changed(before, after):
        plan.decide(row, name, "update", f"changed: {', '.join(changed)}")
    else:
        plan.decide(row, name, "there already")


def _changed(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    return [key for key in {**before, **after} if before.get(key) != after.get(key)]


def _decide_whip(plan: Plan, row: Row, record: WhipRecord) -> None:
    label = record.label
    if plan.is_repeated(row, label, label):
        return
    refusals = Refusals()
    for where, cord in cords_named(record):
        if unknown := _unknown_cord(plan, cord, where):
            refusals.findings.append(unknown)
    merged = plan.whips.get(label) or begin(None, label)
    before = whip_record(merged.whip)
    findings = take_in(merged, record, row.line, refusals)
    if refusals.findings:
        plan.decide(row, label, "rejected", findings=refusals.findings)
        return
    plan.whips[label] = merged
    if record.maker is not None and _need_maker(plan, record.maker):
        plan.decide(row, record.maker, "add", f"named by whip {label}", implied="maker")
    changed = _changed(before, whip_record(merged.whip))
    details = [f"changed: {', '.join(changed)}"] if changed else []
    if merged.added:
        details.append(f"{counted(len(merged.added), 'reading')} added")
    if merged.before is None:
        plan.decide(row, label, "add", "", findings)
    else:
        plan.decide(row, label, "update" if details else "there already", "; ".join(details), findings)


def cords_named(record: WhipRecord) -> Iterable[tuple[str, str]]:
    for number, layer in enumerate(record.layers or [], start=1):
        if layer.cord is not None:
            yield f"layers {number}, cord", layer.cord
        for place, cord in enumerate(layer.cords or [], start=1):
            yield f"layers {number}, cords {place}, cord", cord.cord
    for letter, name in (record.letters or {}).items():
        yield f"letters, {letter}", name
    for number, use in enumerate(record.cord_used or [], start=1):
        yield f"cord_used {number}, cord", use.cord


def _unknown_cord(plan: Plan, name: str, where: str) -> Finding | None:
    if name in plan.cords or name in plan.stored_cords:
        return None
    remedy = nearest_or(name, [*plan.cords, *plan.stored_cords], "add a line for it, or correct the name")
    if ("cord", name) in plan.seen:
        remedy = f"its own {plan.place(plan.seen['cord', name])} is rejected: mend that one"
    return Finding("unknown-cord", f"no cord {name!r} is in the workshop or in this file", remedy, where)


def _whip_of(plan: Plan, row: Row, label: str) -> Merged | None:
    """The whip that a rating or reading belongs to; without one the row is rejected."""
    merged = plan.whips.get(label)
    if merged is None:
        plan.decide(row, label, "rejected", findings=[_unknown_whip(plan, label, "whip")])
    return merged


def _unknown_whip(plan: Plan, label: str, where: str) -> Finding:
    remedy = nearest_or(label, [*plan.all_labels, *plan.whips], "add the whip, or correct the label")
    if ("whip", label) in plan.seen:
        remedy = f"its own {plan.place(plan.seen['whip', label])} is rejected: mend that one"
    return Finding("unknown-whip", f"no whip {label!r} is in the workshop or in this file", remedy, where)


def _decide_rating(plan: Plan, row: Row, record: RatingRecord) -> None:
    merged = _whip_of(plan, row, record.whip)
    if merged is None:
        return
    if record.compared_with is not None and record.compared_with not in plan.whips:
        unknown = _unknown_whip(plan, record.compared_with, "compared_with")
        plan.decide(row, record.whip, "rejected", findings=[unknown])
        return
    rating = rating_from(record)
    if rating.by is not None and rating.by == merged.whip.maker and is_short(replace(rating, by=None)):
        rating = replace(rating, by=None)
    told_apart = (record.whip, record.by, record.on, record.hours_of_use, record.compared_with)
    if plan.is_repeated(row, record.whip, *told_apart):
        return
    before = merged.whip.ratings
    rated = with_rating(before, rating)
    merged.rating_lines[rated.index(rating)] = row.line
    merged.whip = replace(merged.whip, ratings=rated)
    if merged.whip.ratings == before:
        plan.decide(row, record.whip, "there already")
    else:
        plan.decide(row, record.whip, "add" if len(merged.whip.ratings) > len(before) else "update")


def _decide_reading(plan: Plan, row: Row, record: ReadingRecord) -> None:
    merged = _whip_of(plan, row, record.whip)
    if merged is None:
        return
    refusals = Refusals()
    reading = reading_from(record, refusals)
    if reading is None:
        plan.decide(row, record.whip, "rejected", findings=refusals.findings)
    else:
        plan.decide(row, record.whip, "add" if merged.add_reading(reading, row.line) else "there already")


_DECIDE: Final[Mapping[str, Any]] = {
    "maker": _decide_maker,
    "cord": _decide_cord,
    "stock": _decide_stock,
    "whip": _decide_whip,
    "rating": _decide_rating,
    "reading": _decide_reading,
}
