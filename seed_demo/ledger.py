"""One whip as its maker wrote it down: Orrin in millimetres and lists, Tamsin in inches and line notation."""

import datetime as dt
from typing import Any

from plaitlog.seed_demo.bench import cord_used, early_weighing, inches, readings, turns, weighing
from plaitlog.seed_demo.builds import INCH_MM, Build
from plaitlog.seed_demo.chance import Chance
from plaitlog.seed_demo.ratings import bare_weight, own_rating
from plaitlog.seed_demo.thong import Parting, PlaitedLayer, pattern

LETTERS = "AB"


def finished(build: Build, seed: int) -> dict[str, Any]:
    """The full record of a finished whip, with what a busy maker leaves out left out here and there."""
    chance = Chance(seed, "ledger", build.label)
    record = as_planned(build, chance, "finished")
    record["made_on"] = build.made_on.isoformat()
    if build.handle_diameter_mm:
        record["handle_diameter_mm"] = build.handle_diameter_mm
    record["readings"] = readings(build, chance)
    if chance.happens(0.4):
        record["turn_lengths"] = turns(build, chance)
    record["finish"] = chance.one_of((["rolled"], ["rolled", "waxed"], ["rolled"], ["varnished"]))
    if chance.happens(0.85):
        record |= weighing(build, chance)
    # A stream of its own: what else the makers wrote down stays what it was.
    if early := early_weighing(build, Chance(seed, "scale", build.label)):
        record["weights"] = early
    if chance.happens(0.8):
        slow = 1.0 + 0.5 * 0.95**build.build_number
        hours = (3 + 3.2 * build.thong.length_mm / 1000) * slow * chance.between(0.85, 1.2)
        record["hours"] = round(hours * 2) / 2
    if chance.happens(0.6):
        record["cord_used"] = cord_used(build)
    record["fall"] = build.kind.fall
    if build.kind.fall != "none":
        record["cracker"] = chance.one_of(("twisted nylon", "spun polyester"))
    if chance.happens(0.75):
        record["ratings"] = own_rating(build, bare_weight(build), chance)
    return record


def as_planned(build: Build, chance: Chance, status: str) -> dict[str, Any]:
    """What is known of a whip before it is measured: sizes wanted and the strand schedules."""
    record: dict[str, Any] = {"kind": "whip", "label": build.label, "maker": build.maker.name}
    record |= {"type": build.type, "status": status, "build_number": build.build_number}
    record |= {"datum": "handle end"} | lengths(build)
    record["quoted_length"] = quoted(build)
    if build.rod_mm:
        record["foundation"] = {"diameter_mm": build.rod_mm, "to_mm": 0, "material": "steel"}
    else:
        record["foundation"] = "none"
    with_patterns = chance.happens(0.5)
    if build.maker.inches and len(build.wish.overlay) > 1:
        record["letters"] = dict(zip(LETTERS, build.wish.overlay, strict=True))
    record["layers"] = [layer(each, build, with_patterns) for each in build.thong.layers]
    return record


def lengths(build: Build) -> dict[str, Any]:
    handle: dict[str, Any] = {"handle_length_mm": "none"}
    if build.maker.inches:
        if build.handle_mm:
            handle = {"handle_length": inches(build.handle_mm)}
        return {"thong_length": inches(build.thong.length_mm, feet=True)} | handle
    if build.handle_mm:
        handle = {"handle_length_mm": round(build.handle_mm)}
    return {"thong_length_mm": round(build.thong.length_mm)} | handle


def quoted(build: Build) -> str:
    what = "over the handle, without the fall" if build.kind.over_handle else "thong"
    return f"{inches(build.quoted_feet * 12 * INCH_MM, feet=True)} {what}"


def layer(each: PlaitedLayer, build: Build, with_patterns: bool) -> dict[str, Any]:
    record: dict[str, Any] = {"role": each.role}
    if not each.cords:
        size = {"diameter_mm": each.diameter_mm, "thickness_mm": each.thickness_mm}
        record |= {key: value for key, value in size.items() if value is not None}
        return record | {"from_mm": each.from_mm, "to_mm": each.to_mm, "what": each.what}
    patterns = with_patterns and each.role != "core"
    if build.maker.inches:
        if len(each.cords) == 1:
            record["cord"] = each.cords[0]
        return record | {"strands": notation(each, patterns)}
    if len(each.cords) == 1:
        record["cord"] = each.cords[0]
    else:
        share = each.drops[0].count // len(each.cords)
        record["cords"] = [{"cord": cord, "share": share} for cord in each.cords]
    record["strands"] = [
        [drop.at_mm, drop.count, *([fate(drop.parting, " mm", 1.0)] if drop.parting else [])]
        for drop in each.drops
    ]
    if patterns:
        known = [(drop.at_mm, pattern(drop.count)) for drop in each.drops if drop.count]
        record["pattern"] = [[at, text] for at, text in known if text]
    if len(each.drops) > 1:
        record["fate"] = fate(each.parting, " mm", 1.0)
    return record


def fate(parting: Parting, unit: str, unit_mm: float) -> str:
    length = f" {parting.length_mm / unit_mm:g}{unit}" if parting.kind == "tuck" else ""
    return f"{parting.kind}{length}{' gut' if parting.gutted else ''}"


def notation(each: PlaitedLayer, patterns: bool) -> str:
    """The strand schedule as a line in inches, equal drops at equal distances drawn together."""
    said = f" {fate(each.parting, '', INCH_MM)}"
    first, *rest = each.drops
    parts = [f"in: {_counts(first.count, each)}{_pattern(first.count, patterns)}"]
    before, i = first.count, 0
    while i < len(rest):
        drop = rest[i]
        step = before - drop.count
        run = 1 if patterns or drop.count == 0 else _run(each, i + 1)
        place = _inches(drop.at_mm)
        if drop.parting:
            said = f" {fate(drop.parting, '', INCH_MM)}"
        if drop.count == 0:
            parts.append(f"{place}: end{said}")
        elif run > 2:
            last = rest[i + run - 1]
            apart = _inches(rest[i + 1].at_mm - drop.at_mm)
            parts.append(f"{place}: {_drop(step, each)} each {apart} x{run}{said}")
            drop = last
        else:
            run = 1
            parts.append(f"{place}: {_drop(step, each)}{_pattern(drop.count, patterns)}{said}")
        said = ""
        before = drop.count
        i += run
    if before:
        parts.append("p")
    return "; ".join(parts)


def _run(each: PlaitedLayer, start: int) -> int:
    """How many drops from ``start`` on lie equally far apart and drop equally many strands, not to 0."""
    drops = each.drops
    run = 1
    while start + run < len(drops) and drops[start + run].count > 0 and not drops[start + run].parting:
        here, there = drops[start + run - 1], drops[start + run]
        apart = there.at_mm - here.at_mm
        if abs(apart - (drops[start + 1].at_mm - drops[start].at_mm)) > 0.01:
            break
        if here.count - there.count != drops[start - 1].count - drops[start].count:
            break
        run += 1
    return run


def _inches(at_mm: float) -> str:
    return inches(at_mm).removesuffix(" in")


def _counts(count: int, each: PlaitedLayer) -> str:
    if len(each.cords) == 1:
        return str(count)
    return "+".join(f"{count // len(each.cords)}{letter}" for letter in LETTERS)


def _drop(step: int, each: PlaitedLayer) -> str:
    if len(each.cords) == 1:
        return f"-{step}"
    return " ".join(f"-{step // len(each.cords)}{letter}" for letter in LETTERS)


def _pattern(count: int, patterns: bool) -> str:
    text = pattern(count) if patterns and count else None
    return f" {text}" if text else ""


def on_the_bench(build: Build, seed: int) -> dict[str, Any]:
    """Belly done and measured, overlay still to come."""
    chance = Chance(seed, "ledger", build.label)
    record = as_planned(build, chance, "on the bench")
    record["readings"] = readings(build, chance, inner_only=True)
    record["notes"] = "belly done, overlay to come"
    return record


def planned(build: Build, seed: int, day: dt.date) -> dict[str, Any]:
    record = as_planned(build, Chance(seed, "ledger", build.label), "planned")
    record["notes"] = f"drawn up on {day.isoformat()}"
    return record
