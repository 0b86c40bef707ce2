"""Three spreadsheets as makers keep them, invented: a notebook, a long list of readings, an office export."""

import datetime as dt
import io
from typing import Any

from openpyxl import Workbook

Record = dict[str, Any]


def notebook() -> bytes:
    """One row a whip under a title, with blank rows, a remark below, a sheet of cords and an empty one."""
    book = Workbook()
    whips = book.active
    whips.title = "Whips"
    rows: list[list[object]] = [
        ["Whip notebook, begun 2019"],
        [],
        ["No.", "Made by", "Date", "Type", "Thong [ft]", "Handle (in)", "Ø handle mm", "Cord", "Core",
         "Belly", "Overlay", "D0 in", "D12", "D24", "D36", "Point", "Weight g", "Ease", "Notes"],
        ["2019-001", "Orrin", dt.date(2019, 3, 2), "bullwhip", 6, 8, 22, "Ridge 4 mm", 6,
         "in: 12; 20: -2 each 4 to 8; 40: end", "16 plait", 22.3, "18.1/17.9", 15.2, 11.5, 6.5, 412, 7, None],
        ["2019-002", "Orrin", dt.date(2019, 5, 17), "bullwhip", "5 1/2", 8, 21.5, "Ridge 4 mm", 6, None, 12,
         20.1, "16.4?", 13, "_", 6, "13 1/2 oz", "not tried", "softer\ncord from the second spool"],
        [],
        ["2019-003", "Tamsin", "9 July 2019", "snake whip", "5'6\"", "none", None, "Fell 3 mm", None, None,
         12, 17, 15.5, "-", 9.5, 5, None, 9, "given away"],
        [],
        ["All diameters read after rolling, before the wax"],
    ]  # fmt: skip
    for row in rows:
        whips.append(row)
    cords = book.create_sheet("Cords")
    cords.append(["Name", "made of", "Construction", "Ø mm", "g per m", "bought from"])
    cords.append(["Ridge 4 mm", "nylon", "Cored", 4, 7.2, "chandler in the harbour"])
    cords.append(["Fell 3 mm", "polyester", "gutted", 3.1, None, None])
    book.create_sheet("Sheet3")
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


NOTEBOOK: list[Record] = [
    {"kind": "maker", "name": "Orrin"},
    {"kind": "maker", "name": "Tamsin"},
    {"kind": "cord", "name": "Fell 3 mm", "material": "polyester", "construction": "gutted",
     "diameter_mm": 3.1},
    {"kind": "cord", "name": "Ridge 4 mm", "material": "nylon", "construction": "cored", "diameter_mm": 4,
     "linear_density_g_per_m": 7.2, "supplier": "chandler in the harbour"},
    {
        "kind": "whip", "label": "2019-001", "maker": "Orrin", "type": "bullwhip", "made_on": "2019-03-02",
        "thong_length_mm": 1828.8, "thong_length": "6 ft", "handle_length_mm": 203.2, "handle_length": "8 in",
        "handle_diameter_mm": 22, "letters": {"A": "Ridge 4 mm"},
        "layers": [
            {"role": "core", "cord": "Ridge 4 mm", "strands": [[0, 6]], "strands_text": "mm: 6; ?"},
            {"role": "belly", "cord": "Ridge 4 mm",
             "strands": [[0, 12], [508, 10], [609.6, 8], [1016, 0]],
             "strands_text": "in: 12; 20: -2 each 4 to 8; 40: end"},
            {"role": "overlay", "cord": "Ridge 4 mm", "strands": [[0, 16]], "strands_text": "mm: 16; ?"},
        ],
        "readings": [
            {"at_mm": 0, "at": "0 in", "diameter_mm": 22.3},
            {"at_mm": 304.8, "at": "12 in", "diameter_mm": 18.1},
            {"at_mm": 304.8, "at": "12 in", "diameter_mm": 17.9},
            {"at_mm": 609.6, "at": "24 in", "diameter_mm": 15.2},
            {"at_mm": 914.4, "at": "36 in", "diameter_mm": 11.5},
            {"place": "p", "diameter_mm": 6.5},
        ],
        "weight_g": 412, "ratings": {"ease": 7},
    },
    {
        "kind": "whip", "label": "2019-002", "maker": "Orrin", "type": "bullwhip", "made_on": "2019-05-17",
        "thong_length_mm": 1676.4, "thong_length": "5 1/2 ft", "handle_length_mm": 203.2,
        "handle_length": "8 in", "handle_diameter_mm": 21.5, "letters": {"A": "Ridge 4 mm"},
        "layers": [
            {"role": "core", "cord": "Ridge 4 mm", "strands": [[0, 6]], "strands_text": "mm: 6; ?"},
            {"role": "overlay", "cord": "Ridge 4 mm", "strands": [[0, 12]], "strands_text": "mm: 12; ?"},
        ],
        "readings": [
            {"at_mm": 0, "at": "0 in", "diameter_mm": 20.1},
            {"at_mm": 304.8, "at": "12 in", "diameter_mm": 16.4, "doubtful": True},
            {"at_mm": 609.6, "at": "24 in", "diameter_mm": 13},
            {"place": "p", "diameter_mm": 6},
        ],
        "weight_g": 382.7185621875, "weight": "13 1/2 oz", "ratings": {"ease": "not tried"},
        "notes": "softer\ncord from the second spool",
    },
    {
        "kind": "whip", "label": "2019-003", "maker": "Tamsin", "type": "snake whip", "made_on": "2019-07-09",
        "thong_length_mm": 1676.4, "thong_length": "5'6\"", "handle_length_mm": "none",
        "letters": {"A": "Fell 3 mm"},
        "layers": [
            {"role": "overlay", "cord": "Fell 3 mm", "strands": [[0, 12]], "strands_text": "mm: 12; ?"},
        ],
        "readings": [
            {"at_mm": 0, "at": "0 in", "diameter_mm": 17},
            {"at_mm": 304.8, "at": "12 in", "diameter_mm": 15.5},
            {"at_mm": 914.4, "at": "36 in", "diameter_mm": 9.5},
            {"place": "p", "diameter_mm": 5},
        ],
        "ratings": {"ease": 9}, "notes": "given away",
    },
]  # fmt: skip

MIXED_READINGS = '''\
Whip,Station,Diameter,Girth,Tape,After layer,State,Date,Remarks
2019-001,4 in,"12,7 mm",,,2,fresh,2019-02-20,with the old calipers
2019-001,100 mm,"0.512""",,,2,fresh,20.2.2019,
2019-001,6 in,1/2 in,,,2,fresh,20 Feb 2019,
2019-002,1' 6,14.02 mm,,,,waxed,,
2019-002,p,6.05 mm ?,,,,waxed,,
2019-003,20 in,,47.5 mm,0.3 mm,,Broken in,25/06/2020,"a tape, not calipers"
'''
MIXED: dict[str, list[Record]] = {
    "2019-001": [
        {"at_mm": 100, "at": "100 mm", "diameter_mm": 13.0048, "diameter": '0.512"', "after_layer": 2,
         "condition": "fresh", "on": "2019-02-20"},
        {"at_mm": 101.6, "at": "4 in", "diameter_mm": 12.7, "diameter": "12.7 mm", "after_layer": 2,
         "condition": "fresh", "on": "2019-02-20", "notes": "with the old calipers"},
        {"at_mm": 152.4, "at": "6 in", "diameter_mm": 12.7, "diameter": "1/2 in", "after_layer": 2,
         "condition": "fresh", "on": "2019-02-20"},
    ],
    "2019-002": [
        {"at_mm": 457.2, "at": "1' 6", "diameter_mm": 14.02, "diameter": "14.02 mm", "condition": "waxed"},
        {"place": "p", "diameter_mm": 6.05, "diameter": "6.05 mm", "condition": "waxed", "doubtful": True},
    ],
    "2019-003": [
        {"at_mm": 508, "at": "20 in", "girth_mm": 47.5, "girth": "47.5 mm", "tape_mm": 0.3, "tape": "0.3 mm",
         "condition": "broken in", "on": "2020-06-25", "notes": "a tape, not calipers"},
    ],
}  # fmt: skip

OFFICE_EXPORT = """\
whip_label;maker;made on;thong_length (mm);Handle length (cm);weight (g);hours of work;\
D0 mm;D300 mm;D600 mm;finish;notes
K-1;Tamsin;02.03.2024;1.830;20,5;1.024,5;11,25;22,35;17,9;14,05;rolled, waxed;für den Markt – „gut“
K-2;Tamsin;15.11.2024;1.676,4;20;398;9,5;21,2;16,85;13,1;none;
"""
OFFICE: list[Record] = [
    {
        "kind": "whip", "label": "K-1", "maker": "Tamsin", "made_on": "2024-03-02", "thong_length_mm": 1830,
        "handle_length_mm": 205, "handle_length": "20.5 cm",
        "readings": [
            {"at_mm": 0, "diameter_mm": 22.35},
            {"at_mm": 300, "diameter_mm": 17.9},
            {"at_mm": 600, "diameter_mm": 14.05},
        ],
        "finish": ["rolled", "waxed"], "weight_g": 1024.5, "hours": 11.25, "notes": "für den Markt – „gut“",
    },
    {
        "kind": "whip", "label": "K-2", "maker": "Tamsin", "made_on": "2024-11-15", "thong_length_mm": 1676.4,
        "handle_length_mm": 200, "handle_length": "20 cm",
        "readings": [
            {"at_mm": 0, "diameter_mm": 21.2},
            {"at_mm": 300, "diameter_mm": 16.85},
            {"at_mm": 600, "diameter_mm": 13.1},
        ],
        "finish": "none", "weight_g": 398, "hours": 9.5,
    },
]  # fmt: skip


def office_export(encoding: str, delimiter: str = ";") -> bytes:
    """The same in the encodings and delimiters that office programs write."""
    return OFFICE_EXPORT.replace(";", delimiter).replace("\n", "\r\n").encode(encoding)
