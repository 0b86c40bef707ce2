"""Lines of records for the tests of the command line, in an invented scenario."""

import json
from typing import Any

RIDGE: dict[str, Any] = {
    "kind": "cord",
    "name": "Ridge 4 mm",
    "material": "nylon",
    "construction": "cored",
    "diameter_mm": 4.0,
    "linear_density_g_per_m": 7.2,
}
FELL: dict[str, Any] = {
    "kind": "cord",
    "name": "Fell 3 mm",
    "material": "nylon",
    "construction": "cored",
    "diameter_mm": 3.0,
}


def whip(label: str = "2026-014", **keys: Any) -> dict[str, Any]:
    """A finished whip of a core and an overlay with three readings."""
    return {
        "kind": "whip",
        "label": label,
        "maker": "Orrin",
        "type": "bullwhip",
        "status": "finished",
        "datum": "handle end",
        "thong_length_mm": 1800,
        "layers": [
            {"role": "core", "cord": "Ridge 4 mm", "strands": [[0, 6], [700, 0]], "fate": "cut"},
            {"role": "overlay", "cord": "Fell 3 mm", "strands": [[0, 16], [900, 12]]},
        ],
        "readings": [
            {"at_mm": 100, "diameter_mm": 17.5},
            {"at_mm": 500, "diameter_mm": 17.0},
            {"at_mm": 1200, "diameter_mm": 9.5},
        ],
        **keys,
    }


def text(*records: dict[str, Any]) -> list[str]:
    """Records as lines; NaN stands as Python writes it, so that a test can send it."""
    return [json.dumps(record) for record in records]
