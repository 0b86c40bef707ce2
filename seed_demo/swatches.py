"""Six short plaits over a rod, made to learn a cord."""

import datetime as dt
import math
from collections.abc import Mapping
from typing import Any, Final

from plaitlog.seed_demo.chance import Chance
from plaitlog.seed_demo.cords import CordNature
from plaitlog.seed_demo.makers import CALIPER_SD_MM, LOCAL_SD, ORRIN, TAMSIN, WHIP_PULL_SD
from plaitlog.seed_demo.mechanics import turn_length
from plaitlog.seed_demo.shaping import GOOD_COVER
from plaitlog.seed_demo.thong import Drop, PlaitedLayer, Thong, pattern

ROD_END_MM: Final = 200.0
PLAITS: Final = (
    ("Crag 5 mm", 12.0), ("Scar 4.5 mm", 10.0), ("Wold 4 mm", 12.0), ("Tarn 2 mm", 8.0),
    ("Heath 3.5 mm gutted", 10.0), ("Fell 3 mm gutted", 6.0),
)  # fmt: skip


def swatches(seed: int, cords: Mapping[str, CordNature]) -> list[dict[str, Any]]:
    """One record each: the rod, the strands, a few readings, and a turn length from the careful hand."""
    found: list[dict[str, Any]] = []
    for number, (name, rod) in enumerate(PLAITS, start=1):
        chance = Chance(seed, "test plait", number)
        maker = chance.one_of((ORRIN, TAMSIN))
        nature = cords[name]
        wanted = GOOD_COVER * 2 * math.pi * (rod + 1.9 * nature.thickness_mm) / nature.width_mm
        count = min((8, 10, 12, 16, 20), key=lambda even: abs(even - wanted))
        layer = PlaitedLayer(role="overlay", cords=(name,), drops=(Drop(0.0, count),))
        thong = Thong(
            length_mm=220, layers=(layer,), foundation_mm=rod, foundation_to_mm=ROD_END_MM, cords=cords
        )
        pull = maker.pull + chance.normal(WHIP_PULL_SD)
        places = (40.0, 90.0, 140.0, 180.0)[: chance.whole(3, 4)]
        sizes = [
            thong.section_at(at).pulled(pull) * math.exp(chance.normal(LOCAL_SD))
            + chance.normal(CALIPER_SD_MM)
            for at in places
        ]
        day = dt.date(2022, 2, 5) + dt.timedelta(days=150 * number)
        record: dict[str, Any] = {"kind": "whip", "label": f"T-{number}", "maker": maker.name}
        record |= {"type": "test plait", "status": "finished", "made_on": day.isoformat()}
        record |= {"datum": "handle end", "thong_length_mm": 220}
        record["foundation"] = {"diameter_mm": rod, "to_mm": ROD_END_MM, "material": "steel"}
        strands: dict[str, Any] = {"role": "overlay", "cord": name, "strands": [[0, count]]}
        record["layers"] = [strands | {"pattern": pattern(count)}]
        record["readings"] = [
            {"at_mm": at, "diameter_mm": round(size, 1), "condition": "fresh"}
            for at, size in zip(places, sizes, strict=True)
        ]
        if chance.happens(0.5):
            turn = turn_length(thong.section_at(90.0)) * math.exp(chance.normal(0.03))
            record["turn_lengths"] = [{"at_mm": 90, "turn_mm": round(turn)}]
        found.append(record)
    return found
