"""Headers of columns: the name without its unit, and the stations of a notebook's reading columns.

Case, blanks, underscores, hyphens, brackets and plurals do not matter: ``Thong length [ft]``,
``thong_length_ft`` and ``THONG-LENGTHS, ft`` are one name in one unit.
"""

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from plaitlog.models.units_scan import G_PER, MM_PER, plain_marks, scan_measure, scan_number, scan_unit

_DENSITIES: Final = (
    (re.compile(r"\bg(?:rams?)? ?(?:/|per) ?m(?:et(?:re|er)s?)?$"), "g/m"),
    (re.compile(r"\bg(?:rams?)? ?(?:/|per) ?cm ?[3³]$"), "g/cm3"),
    (re.compile(r"\bkg ?(?:/|per) ?m ?[3³]$"), "kg/m3"),
    (re.compile(r"\boz ?(?:/|per) ?y(?:ar)?ds?$"), "oz/yd"),
    (re.compile(r"\bf(?:ee)?t ?(?:/|per) ?lbs?$"), "ft/lb"),
)
_BRACKETS: Final = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
_FULL: Final = {
    "dia": "diameter", "diam": "diameter", "no": "number", "nr": "number", "len": "length", "wt": "weight",
}  # fmt: skip
_FILLING: Final = frozenset({"of", "the", "a", "at"})
_WORD: Final = re.compile(r"[^\W_]+")
_STATION: Final = re.compile(
    r"(?:(?P<girth>girth|circumference|circ|g|c)|d|dia|diam|diameter|reading|calipers?|ø)?"
    r"\s*(?:at|@|station|st)?\s*(?P<place>[0-9].*)"
)
_PLACES: Final = {
    "thick": "thick", "thickend": "thick", "mid": "mid", "middle": "mid", "halfway": "mid",
    "point": "p", "p": "p", "tip": "p", "pointend": "p",
}  # fmt: skip
_TAPED: Final = ("girth", "circumference", "circ")
_AROUND: Final = frozenset({*_TAPED, "d", "dia", "diam", "diameter", "reading", "at", "of", "the"})


@dataclass(frozen=True, slots=True)
class Header:
    """One header: as it stands, its bare name for comparing, and the unit it names (None: none).

    ``full`` is the bare name with the unit left in (price per m is a name), ``loose`` the name without the
    unit and without an order of its words.
    """

    text: str
    name: str
    unit: str | None
    full: str
    loose: str


@dataclass(frozen=True, slots=True)
class StationHeader:
    """A reading column of a notebook: where it was measured, and whether by tape.

    ``place`` is a named place, else ``station`` the number as typed with its ``unit`` (None: not said).
    """

    place: str | None
    station: str
    unit: str | None
    girth: bool


def unit_named(word: str) -> str | None:
    """The short name of a unit of length, mass or density, however it is written; None if it is none."""
    plain = plain_marks(word).strip().lower().rstrip(".")
    for pattern, unit in _DENSITIES:
        if pattern.fullmatch(plain):
            return unit
    found, end = scan_unit(plain, 0)
    return found if found is not None and end == len(plain) and (found in MM_PER or found in G_PER) else None


@lru_cache(maxsize=4096)
def bare(text: str) -> str:
    """A name for comparing: letters and digits only, words in the singular."""
    return "".join(words_of(text))


def words_of(text: str) -> list[str]:
    """The words of a name in the singular, short forms written out."""
    return [_FULL.get(word) or _singular(word) for word in _WORD.findall(_plain(text))]


@lru_cache(maxsize=4096)
def loose(text: str) -> str:
    """A name whatever the order of its words: diameter of the handle, handle diameter."""
    return "".join(sorted(word for word in words_of(text) if word not in _FILLING))


def _plain(text: str) -> str:
    plain = unicodedata.normalize("NFKC", plain_marks(text)).lower()
    return re.sub("[øØ⌀∅]", " diameter ", plain).replace("_", " ").strip()


def _singular(word: str) -> str:
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word


def read_header(text: str) -> Header:
    """A header with its unit told apart: in brackets, or as its last word."""
    plain = _plain(text)
    full = bare(text)
    if (alone := unit_named(plain)) is not None:
        return Header(text, full, alone, full, full)
    for inside in _BRACKETS.finditer(plain):
        unit = unit_named(inside[1]) or unit_named(re.split(r"[,; ]", inside[1].strip())[0])
        if unit is not None:
            rest = (plain[: inside.start()] + plain[inside.end() :]).strip()
            return Header(text, bare(rest) or full, unit, full, loose(rest))
    for pattern, unit in _DENSITIES:
        found = pattern.search(plain)
        if found is not None and found.start() > 0:
            name = plain[: found.start()]
            return Header(text, bare(name), unit, full, loose(name))
    words = re.split(r"[\s,;:/-]+", plain.rstrip(" .:"))
    unit = unit_named(words[-1])
    if unit is not None and len(words) > 1:
        kept = words[:-1]
        if kept[-1] == "in" and len(kept) > 1:  # "weight in g"
            kept = kept[:-1]
        name = " ".join(kept)
        return Header(text, bare(name), unit, full, loose(name))
    return Header(text, full, None, full, loose(text))


def station_header(text: str) -> tuple[StationHeader, str | None] | None:
    """What a reading column of a notebook says, and the unit of its readings where it names one.

    ``D12``, ``Ø 12 in (mm)``, ``at 300 mm``, ``24"``, ``thick``, ``point (mm)``: a unit in brackets is
    that of the readings, one behind the number that of the station.
    """
    plain = unicodedata.normalize("NFKC", plain_marks(text)).lower().replace("_", " ").strip()
    unit = None
    inside = _BRACKETS.search(plain)
    if inside is not None:
        unit = unit_named(inside[1])
        if unit is None:
            return None
        plain = (plain[: inside.start()] + plain[inside.end() :]).strip()
    found = _STATION.fullmatch(re.sub("[⌀∅]", "ø", plain))
    if found is not None:
        place = found["place"].strip()
        number = scan_number(place)
        measured = scan_measure(place, 0, MM_PER)
        if number is None or measured is None or measured.end < len(place):
            return None
        typed = place if measured.unit is not None else place[: number.end]
        return StationHeader(None, typed, measured.unit, found["girth"] is not None), unit
    words = _WORD.findall(plain)
    if unit is None and len(words) > 1 and (unit := unit_named(words[-1])) is not None:
        words = words[:-1]
    named = _PLACES.get("".join(word for word in words if word not in _AROUND))
    if named is None:
        return None
    return StationHeader(named, named, None, any(word in _TAPED for word in words)), unit
