"""Files whose rows fit, but whose cells cannot be meant, or hardly."""

from tests.fuzz.malformed import Malformed, semicolons, table

_START = "w1,2026-03-02,1830,412,"


def _thick(text: str) -> bytes:
    return table(f"{_START}{text},")


VALUES = [
    Malformed(
        "decimal commas between semicolons",
        semicolons("w1;2026-03-02;1830,5;412;22,3;erste", "w2;;;;21,75;"),
        rows=2,
    ),
    Malformed("a decimal comma in quotes", table('w1,,1830,412,"22,3",'), rows=1),
    Malformed("thousands marks", semicolons("w1;;1.830,5;412;22,3;", "w2;;1.900,0;1.412,0;22,3;"), rows=2),
    Malformed("a value with its unit", _thick("22.0 mm"), rows=1),
    Malformed("a decimal comma with a unit", table('w1,,1830,412,"12,0 mm",'), rows=1),
    Malformed("inches with their mark", _thick('0.472"'), rows=1),
    Malformed("a fraction", table("w1,,1830,412,3/4 in,"), rows=1),
    Malformed("a mixed number", table('w1,,"5\' 6 1/2""",412,22.3,'), rows=1),
    Malformed("smart quotes for feet and inches", table("w1,,5’ 6”,412,22.3,“smart”"), rows=1),
    Malformed("a sign for half", table("w1,,1830,412,½ in,"), rows=1),
    Malformed("not a number", _thick("NaN"), rows=1, rejected={2: ("thick (mm)", "NaN")}),
    Malformed("infinity", _thick("inf"), rows=1, rejected={2: ("thick (mm)", "inf")}),
    Malformed("a number beyond all numbers", _thick("1e309"), rows=1, rejected={2: ("thick (mm)", "1e309")}),
    Malformed("a negative size", _thick("-4.0"), rows=1, rejected={2: ("thick (mm)", "-4")}),
    Malformed("a size of zero", _thick("0"), rows=1, rejected={2: ("thick (mm)", "0")}),
    Malformed("an absurd size", _thick("2230"), rows=1, rejected={2: ("thick (mm)", "2230")}),
    Malformed("a word for a number", _thick("thickish"), rows=1, rejected={2: ("thick (mm)", "thickish")}),
    Malformed("a unit that cannot be meant", _thick("22 kg"), rows=1, rejected={2: ("thick (mm)", "22 kg")}),
    Malformed(
        "a number of thousands of digits", _thick("1" * 5000), rows=1, rejected={2: ("thick (mm)", "111")}
    ),
    Malformed(
        "a day that is none", table("w1,2026-02-30,1830,,,"), rows=1, rejected={2: ("made on", "2026-02-30")}
    ),
    Malformed(
        "a row without a name", table(",2026-03-02,1830,412,22.3,"), rows=1, rejected={2: ("label", "empty")}
    ),
    Malformed(
        "a name twice",
        table("w1,,1830,,,", "w1,,1900,,,"),
        rows=2,
        rejected={2: ("label", "'w1'", "line 3"), 3: ("label", "'w1'", "line 2", "keep one")},
    ),
    Malformed(
        "cells that a program would run",
        table("=1+1,,1830,,,@SUM(A1)", "'=1+2,,1830,,,+cmd"),
        rows=2,
    ),
    Malformed(
        "a fault in every row",
        table(*(f"w{k},,-5,,," for k in range(250))),
        rows=250,
        rejected=dict.fromkeys(range(2, 252), ("thong length (mm)", "-5")),
    ),
]
