"""Files that are hard to read as text: encodings, line ends, characters that are none."""

import codecs

from tests.fuzz.malformed import HEAD, MORE, SOUND, Malformed, lines, table

ACCENTS = "w1,2026-03-02,1830,412,22.3,für Jörg – Größe ½"
TABS = [row.replace(",", "\t") for row in (HEAD, SOUND, MORE)]

TEXTS = [
    Malformed("empty", b"", error="empty"),
    Malformed("a byte order mark and nothing else", codecs.BOM_UTF8, error="empty"),
    Malformed("blank lines and nothing else", b"\r\n\n \n\t\r\n,,,\n", error="empty"),
    Malformed("header only", table()),
    Malformed("header only, without a line end", HEAD.encode()),
    Malformed("last line without a line end", table(SOUND, MORE).rstrip(), rows=2),
    Malformed("UTF-8 with a byte order mark", codecs.BOM_UTF8 + table(ACCENTS), rows=1),
    Malformed("UTF-16 with a byte order mark", lines(ACCENTS).encode("utf-16"), rows=1),
    Malformed(
        "UTF-16, big end first, with its mark",
        codecs.BOM_UTF16_BE + table(ACCENTS, encoding="utf-16-be"),
        rows=1,
    ),
    Malformed(
        "UTF-16 without a mark", table(ACCENTS, encoding="utf-16-le"), rows=1, findings=("encoding-guessed",)
    ),
    Malformed(
        "UTF-16, big end first, without a mark",
        table(ACCENTS, encoding="utf-16-be"),
        rows=1,
        findings=("encoding-guessed",),
    ),
    Malformed("UTF-32 with a byte order mark", lines(ACCENTS).encode("utf-32"), rows=1),
    Malformed(
        "UTF-16 that ends within a character",
        (lines(SOUND) + "w2,2026-03-09,1900,420,22.1,Ü").encode("utf-16")[:-1],
        rows=2,
        rejected={3: ("notes", "column 6", "is not UTF-16")},
        at_sight=(3,),
    ),
    Malformed("cp1252", table(ACCENTS, encoding="cp1252"), rows=1, findings=("encoding-guessed",)),
    Malformed(
        "cp1250",
        table(SOUND, "w2,2026-03-09,1900,420,22.1,żółw z Łodzi", encoding="cp1250"),
        rows=2,
        findings=("encoding-guessed",),
    ),
    Malformed(
        "cp1251",
        table(SOUND, "w2,2026-03-09,1900,420,22.1,черная кожа", encoding="cp1251"),
        rows=2,
        findings=("encoding-guessed",),
    ),
    Malformed(
        "cp932",
        table(SOUND, "w2,2026-03-09,1900,420,22.1,革の鞭", encoding="cp932"),
        rows=2,
        findings=("encoding-guessed",),
    ),
    Malformed(
        "UTF-8 with one damaged byte",
        lines(ACCENTS).encode() + b"w2,2026-03-09,1900,420,22.1,gr\xfcn\r\nw3,,1900,,,\r\n",
        rows=3,
        rejected={3: ("notes", "column 6", "byte 31", "0xFC", "is not UTF-8")},
        at_sight=(3,),
    ),
    Malformed("line ends of old computers", table(SOUND, MORE, end="\r"), rows=2),
    Malformed("line ends of Unix", table(SOUND, MORE, end="\n"), rows=2),
    Malformed("mixed line ends", f"{HEAD}\r{SOUND}\n{MORE}\r\nw3,,,,,\r".encode(), rows=3),
    Malformed("blank lines between rows", f"{HEAD}\n\n{SOUND}\n,,,,,\n \n{MORE}\n\n\n".encode(), rows=2),
    Malformed(
        "line breaks that are none: form feed, U+2028, next line",
        table("w1,,1830,,,a\x0cb", "w2,,1830,,,a\u2028b", "w3,,1830,,,a\x85b"),
        rows=3,
    ),
    Malformed(
        "a NUL in a cell",
        table(SOUND, "w2,,19\x0000,,,", "w3,,1900,,,"),
        rows=3,
        rejected={3: ("thong length (mm)", "column 3", "19\\x0000", "take it out")},
        at_sight=(3,),
    ),
    Malformed("a NUL in the header", table(SOUND, head="label\0,notes"), error="not-text"),
    Malformed("nothing but NUL", bytes(5000), error="not-text"),
    Malformed("tabs between cells", "\r\n".join(TABS).encode(), rows=2),
    Malformed("bars between cells", "\r\n".join(TABS).replace("\t", "|").encode(), rows=2),
    Malformed("semicolons between cells", "\r\n".join(TABS).replace("\t", ";").encode(), rows=2),
    Malformed(
        "a first line that states the delimiter",
        b"sep=;\r\n" + "\r\n".join(TABS).replace("\t", ";").encode(),
        rows=2,
    ),
    Malformed(
        "a first line that states an unusual delimiter",
        b"sep=^\r\n" + "\r\n".join(TABS).replace("\t", "^").encode(),
        rows=2,
    ),
    Malformed("a PDF", b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", error="not-a-table"),
    Malformed(
        "a web page named .csv", b"<!DOCTYPE html><table><tr><td>label</td></tr></table>", error="not-a-table"
    ),
    Malformed("JSON Lines named .csv", b'{"kind":"maker","name":"Orrin"}\n', error="not-a-table"),
    Malformed("an SQLite database", b"SQLite format 3\0" + bytes(100), error="not-a-table"),
]
