"""The invented workshop whole: records in the order a file would hold them, and its import.

``lines`` gives the workshop as JSON Lines, the same bytes for the same seed; ``seed`` imports them.
"""

import datetime as dt
import io
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from plaitlog.seed_demo import ledger, notebook
from plaitlog.seed_demo.bench import late_reading
from plaitlog.seed_demo.builds import Build, build, builds
from plaitlog.seed_demo.chance import Chance
from plaitlog.seed_demo.cords import NEVER_PLAITED, cord_records, natures
from plaitlog.seed_demo.makers import ORRIN, TAMSIN
from plaitlog.seed_demo.ratings import bare_weight, sessions
from plaitlog.seed_demo.swatches import swatches
from plaitlog.service.usecases.importing import import_lines

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

SEED: Final = 12
TYPICAL_STACK: Final[dict[str, Any]] = {
    "id": f"thick end in {NEVER_PLAITED}",
    "maker": ORRIN.name,
    "layers": [
        {"role": "core", "cord": "Fell 3 mm gutted", "strands": 8},
        {"role": "overlay", "cord": NEVER_PLAITED, "strands": 16, "pattern": "u2o2u2o2"},
    ],
}
"""What the demo predicts: the thick end of a stock whip in the cord that nobody has plaited yet."""

SLIPS: Final = {12: 0.1, 31: math.pi}
"""Which whips hold one mistyped reading, and by what factor: a lost point, a girth noted as a diameter."""


@dataclass(frozen=True, slots=True)
class Summary:
    """What was brought in: numbers of whips (test plaits apart), cords, readings and rating sessions."""

    whips: int
    test_plaits: int
    cords: int
    readings: int
    rating_sessions: int


def seed(session: "Session", number: int = SEED) -> Summary:
    """Import the workshop of seed ``number``; the caller's transaction commits it.

    Raises
    ------
    ImportRefusedError
        Where the workshop at hand does not take it.
    """
    made = list(records(number))
    whole = "\n".join(map(line, made)).encode()
    report = import_lines(session, io.BytesIO(whole), source="demo workshop", size_bytes=len(whole))
    kinds = [record["kind"] for record in made]
    plaits = sum(record.get("type") == "test plait" for record in made)
    return Summary(
        whips=kinds.count("whip") - plaits,
        test_plaits=plaits,
        cords=kinds.count("cord"),
        readings=report.readings_added,
        rating_sessions=kinds.count("rating"),
    )


def lines(seed: int = SEED) -> Iterator[str]:
    """The workshop as JSON Lines, without line ends."""
    for record in records(seed):
        yield line(record)


def line(record: dict[str, Any]) -> str:
    """One record as a line of JSON."""
    return json.dumps(_plain(record), ensure_ascii=False)


def records(seed: int = SEED) -> Iterator[dict[str, Any]]:
    """Makers, cords, stock, notebook pages, test plaits, whips, then rating sessions and late readings."""
    cords = natures(seed)
    yield {"kind": "maker", "name": ORRIN.name}
    yield {"kind": "maker", "name": TAMSIN.name}
    yield from cord_records(seed)
    yield from notebook.pages(seed, cords)
    yield from swatches(seed, cords)
    made = builds(seed, cords)
    for place, whip in enumerate(made):
        record = ledger.finished(whip, seed)
        _doubt(record["readings"], Chance(seed, "doubt", whip.label))
        if place in SLIPS:
            _slip(record["readings"][3], SLIPS[place])
        yield record
    yield from _still_to_come(seed, made)
    for whip in made:
        chance = Chance(seed, "sessions", whip.label)
        if chance.happens(0.6):
            yield from sessions(whip, bare_weight(whip), chance)
    for whip in made[3:40:7]:
        yield late_reading(whip, Chance(seed, "late", whip.label))


def _plain(value: Any) -> Any:
    """Whole numbers without a decimal point, as a hand would write them."""
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, list):
        return [_plain(each) for each in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _still_to_come(seed: int, made: list[Build]) -> Iterator[dict[str, Any]]:
    """One whip on the bench and two that are only planned."""
    cords = natures(seed)
    last = made[-1].made_on
    coming = (("bullwhip", TAMSIN, 12), ("stock whip", ORRIN, 30), ("bullwhip", ORRIN, 34))
    for number, (name, maker, days) in enumerate(coming, start=1):
        day = last + dt.timedelta(days=days)
        done = max(whip.build_number for whip in made if whip.maker is maker)
        later = sum(other is maker for _, other, _ in coming[:number])
        chance = Chance(seed, "to come", number)
        whip = build(f"{day.year}-B{number}", name, maker, done + later, day, chance, cords)
        yield ledger.on_the_bench(whip, seed) if number == 1 else ledger.planned(whip, seed, day)


def _doubt(readings: list[dict[str, Any]], chance: Chance) -> None:
    """The maker doubts about one reading in eighty, and is off by several per cent there."""
    for reading in readings:
        if chance.happens(1 / 80):
            _slip(reading, math.exp(chance.normal(0.05)))
            reading["doubtful"] = True


def _slip(reading: dict[str, Any], factor: float) -> None:
    if "diameter" in reading:
        typed = float(reading["diameter"].removesuffix(" mm")) * factor
        reading["diameter"] = f"{typed:.2f} mm" if factor < 0.5 else f"{typed:.1f} mm"
    elif "diameter_mm" in reading:
        reading["diameter_mm"] = round(reading["diameter_mm"] * factor, 2 if factor < 0.5 else 1)
