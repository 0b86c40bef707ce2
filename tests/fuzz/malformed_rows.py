"""Files whose rows do not fit: quotes, ragged rows, headers, sizes."""

from tests.fuzz.malformed import HEAD, MORE, SOUND, Malformed, lines, table

LONG = "x" * 40_000
ROWS = [
    Malformed("a quoted line break", table('w1,,1830,,,"first\r\nsecond\nthird"', MORE), rows=2),
    Malformed(
        "a fault after a quoted line break has the number of its line",
        table('w1,,1830,,,"first\r\nsecond"', "w2,,1830,,,,surplus"),
        rows=2,
        rejected={4: ("column 7", "'surplus'", "beyond the last column")},
        at_sight=(4,),
    ),
    Malformed("quotes within quotes", table('w1,,1830,,,"called ""the ridge"""'), rows=1),
    Malformed("a quote within a bare cell", table('w1,,1830,,0.472",plain'), rows=1),
    Malformed("blanks before quotes", table('w1,,1830,,22.3, "a, b"'), rows=1),
    Malformed(
        "a quote that is not closed",
        table(SOUND, '"w2,2026-03-09,1900,,,', "w3,,1900,,,", "w4,,1900,,,"),
        rows=4,
        rejected={
            3: ("label", "column 1", "w2,2026-03-09", "not closed", "write a quote mark inside it twice")
        },
        at_sight=(3,),
    ),
    Malformed(
        "a quote that is not closed on the last line",
        table(SOUND, 'w2,,1900,,,"odd'),
        rows=2,
        rejected={3: ("notes", "column 6", "'odd'", "not closed")},
        at_sight=(3,),
    ),
    Malformed(
        "a quote that is not closed, and another far below",
        table('w1,,,,,"odd', *(f"w{k},,1900,,," for k in range(2, 300)), 'w300,,,,,"odd"'),
        rows=300,
        rejected={2: ("notes", "'odd'", "not closed")},
        at_sight=(2,),
    ),
    Malformed(
        "a quote that is closed in the next row",
        table('w1,,,,,"odd', 'w2,,1900,,,"even"', MORE.replace("w2", "w3")),
        rows=3,
        rejected={2: ("notes", "'odd'", "not closed")},
        at_sight=(2,),
    ),
    Malformed(
        "text after a closing quote",
        table('w1,,1830,,,"the "ridge" one"', MORE),
        rows=2,
        rejected={2: ("notes", "column 6", "the ", "follows the quote mark")},
        at_sight=(2,),
    ),
    Malformed(
        "the rest of a faulty row is not taken for a row",
        table('w1,,1830,,,"first', 'second "third" fourth', 'fifth"', MORE),
        rows=4,
        rejected={
            2: ("notes", "not closed"),
            3: ("'second", "may be the rest of the row on line 2"),
            4: ("'fifth", "may be the rest of the row on line 2"),
        },
        at_sight=(2, 3, 4),
    ),
    Malformed("short rows", table("w1", "w2,,1900", SOUND.replace("w1", "w3")), rows=3),
    Malformed("long rows with empty cells beyond", table(f"{SOUND},,,", MORE), rows=2),
    Malformed(
        "long rows with a value beyond",
        table(f"{SOUND},surplus", MORE),
        rows=2,
        rejected={2: ("column 7", "'surplus'", "beyond the last column", "give the column a name")},
        at_sight=(2,),
    ),
    Malformed(
        "a decimal comma between commas",
        table("w1,,1830,412,22,3,first", MORE),
        rows=2,
        rejected={2: ("column 7", "'first'", "in quotes")},
        at_sight=(2,),
    ),
    Malformed("a column twice", table(SOUND, head=HEAD.replace("notes", "Label ")), error="column-twice"),
    Malformed(
        "a blank header above values",
        table(SOUND, "w2,2026-03-09,,420,22.1,", head=HEAD.replace("thong length (mm)", "")),
        rows=2,
        rejected={2: ("column 3", "'1830'", "without a name", "name the column")},
        at_sight=(2,),
    ),
    Malformed(
        "a blank header above nothing", table("w1,2026-03-02,,,,", head=HEAD.replace("notes", " ")), rows=1
    ),
    Malformed(
        "a renamed header", table(SOUND, head=HEAD.replace("weight (g)", "heaviness")), error="column-unknown"
    ),
    Malformed(
        "headers in another order and case", table("412,W1", head="WEIGHT_G;Label".replace(";", ",")), rows=1
    ),
    Malformed("a header that is not closed", table(SOUND, head='"label,notes'), error="quote-not-closed"),
    Malformed(
        "ten thousand columns",
        table(",".join(["1"] * 10_000), head=",".join(f"c{k}" for k in range(10_000))),
        error="too-many-columns",
    ),
    Malformed(
        "ten thousand cells in a row",
        table(SOUND, "w2" + ",1" * 10_000, MORE.replace("w2", "w3")),
        rows=3,
        rejected={3: ("column 7", "'1'", "beyond the last column")},
        at_sight=(3,),
    ),
    Malformed(
        "a cell longer than any",
        table(f"w1,,1830,,,{LONG}", MORE),
        rows=2,
        rejected={2: ("notes", "column 6", "xxx", "40000 characters", "shorten it")},
        at_sight=(2,),
    ),
    Malformed(
        "a quoted cell longer than any, over several lines",
        table('w1,,1830,,,"' + "\r\n".join([LONG[:30_000]] * 6) + '"', MORE),
        rows=7,
        rejected={2: ("notes", "not closed")} | dict.fromkeys(range(3, 8), ("xxx",)),
        at_sight=tuple(range(2, 8)),
    ),
    Malformed(
        "a line of a million characters",
        table(SOUND, f"w2,,1830,,,{'y' * 1_000_000}", "w3,,1830,,,"),
        rows=3,
        rejected={3: ("notes", "column 6", "w2,,1830", "longer than 131072 characters", "shorten it")},
        at_sight=(3,),
    ),
    Malformed(
        "a header line of a million characters",
        ("z" * 1_000_000 + "\n" + lines(SOUND)).encode(),
        error="line-too-long",
    ),
]
