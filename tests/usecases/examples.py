"""A small workshop that touches every table: the records of the tests, in an invented scenario."""

from typing import Any

Record = dict[str, Any]

RIDGE: Record = {
    "kind": "cord",
    "name": "Ridge 4 mm",
    "material": "nylon",
    "construction": "cored",
    "diameter_mm": 4.0,
    "pressed": "2.1 mm",
    "flat_width_mm": 4.4,
    "linear_density_g_per_m": 7.2,
}
FELL: Record = {
    "kind": "cord",
    "name": "Fell 3 mm",
    "material": "polyester",
    "construction": "gutted",
    "diameter": "1/8 in",
    "notes": "soft",
}
BULLWHIP: Record = {
    "kind": "whip",
    "label": "2026-014",
    "maker": "Orrin",
    "type": "bullwhip",
    "status": "finished",
    "made_on": "2026-03-02",
    "build_number": 37,
    "datum": "handle end",
    "thong_length_mm": 1830,
    "thong_length": "6 ft",
    "quoted_length": "6 ft over the handle",
    "handle_length_mm": 200,
    "handle_diameter_mm": 22,
    "foundation": {"diameter_mm": 8, "to_mm": 0, "material": "steel"},
    "layers": [
        {
            "role": "core",
            "cord": "Ridge 4 mm",
            "strands": [[0, 6], [300, 5], [380, 4], [460, 3], [540, 2], [700, 0]],
            "fate": "cut",
        },
        {
            "role": "belly",
            "cord": "Ridge 4 mm",
            "strands": [[0, 12], [[680, 720], [10, 11], "run gut"], [1000, 8], [None, 0]],
            "fate": "tuck 80 mm gut",
        },
        {"role": "binding", "thickness_mm": 0.2, "from_mm": 0, "to": "4 ft", "what": "thread"},
        {
            "role": "overlay",
            "cords": [{"cord": "Ridge 4 mm", "share": 8}, {"cord": "Fell 3 mm", "share": 8}],
            "strands": [[0, 16], [900, 12], [1500, {"Ridge 4 mm": 6, "Fell 3 mm": 2}]],
            "pattern": [[0, "u2o2u2o2"], [900, "u3o3"], [1500, "u2o2"]],
            "fate": "run",
        },
    ],
    "readings": [
        {"at_mm": 20, "diameter_mm": 22.3},
        {"at_mm": 150, "diameter_mm": 17.9, "after_layer": 2, "condition": "fresh"},
        {"at": "24 in", "girth_mm": 47.5, "tape_mm": 0.3, "doubtful": True, "notes": "in a hurry"},
        {"place": "p", "diameter": "1/4 in", "on": "2026-03-03"},
    ],
    "turn_lengths": [{"at_mm": 330, "turn_mm": 62, "after_layer": 2}],
    "finish": ["rolled", "waxed"],
    "weight_g": 412,
    "weight_with": ["fall", "cracker"],
    "weights": [{"weight": "10 oz", "with": "none", "after_layer": 2}],
    "balance": {"at_mm": 450, "from": "butt", "how": "laid straight"},
    "hours": 11.5,
    "cord_used": [{"cord": "Ridge 4 mm", "metres": 38}],
    "fall": "none",
    "ratings": {"ease": 7, "volley": 5, "accuracy": "not tried"},
    "notes": "for the fair; tight",
}
NOTEBOOK_WHIP: Record = {
    "kind": "whip",
    "label": "old 3",
    "maker": "Tamsin",
    "thong_length": "5' 6 1/2\"",
    "foundation": "none",
    "handle_length_mm": "none",
    "finish": "none",
    "letters": {"B": "Ridge 4 mm"},
    "layers": [
        {"role": "core", "cord": "Fell 3 mm", "strands": "in: 12; ~20: -2; ?: -2; 28..34: end"},
        {"role": "belly"},
        {"role": "overlay", "strands": "in: 16B u4o4; 40: -4 tuck 3; ?"},
    ],
    "layers_complete": False,
    "readings": "in mm, waxed: thick 18,5; mid 13; p 7,2",
}
SESSION: Record = {
    "kind": "rating",
    "whip": "2026-014",
    "by": "Tamsin",
    "on": "2026-03-09",
    "hours_of_use": 4,
    "cracker": "nylon",
    "scores": {"ease": 7, "roll_out": 6.5, "accuracy": "not tried"},
    "feel": {"thong_handle": 1, "limp_stiff": 0, "slow_quick": -1},
    "notes": "in wind",
}
STOCK: Record = {"kind": "stock", "cord": "Ridge 4 mm", "colour": "black", "lot": "2026-02", "metres": 140}
LATER_READING: Record = {
    "kind": "reading",
    "whip": "2026-014",
    "at_mm": 480,
    "diameter_mm": 15.2,
    "condition": "broken in",
    "on": "2026-06-01",
}
WORKSHOP: list[Record] = [RIDGE, FELL, STOCK, BULLWHIP, NOTEBOOK_WHIP, SESSION, LATER_READING]
