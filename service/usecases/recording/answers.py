"""Answers of the recording dialogue, from text as typed to the keys of a record."""

import datetime as dt
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final

from plaitlog.models import units
from plaitlog.models.errors import UnitError
from plaitlog.models.units import LengthUnit, Quantity
from plaitlog.models.units_scan import plain_marks, scan_length, scan_number
from plaitlog.models.whip import NONE, NOT_TRIED
from plaitlog.service.usecases.recording.dialogue import Noted, mend

Reader = Callable[[str], Noted]

CORD_LENGTH: Final = Quantity("length of cord", "mm", units.LENGTH.units, 10_000_000, (1_000, 200_000))
_SPLIT: Final = re.compile(r"\s*(?:;|,(?!\d))\s*")
"""Parts of a list; a comma between digits is a decimal mark."""


def text(key: str) -> Reader:
    return lambda typed: Noted({key: typed})


def pick(typed: str, options: Sequence[str]) -> str | None:
    """The option meant by its name, by a number, or by the only beginning or part that fits; else None."""
    wanted = typed.casefold()
    if typed in options:
        return typed
    if typed.isdecimal() and 1 <= int(typed) <= len(options):
        return options[int(typed) - 1]
    for fits in (str.__eq__, str.startswith, str.__contains__):
        found = [option for option in options if fits(option.casefold(), wanted)]
        if found:
            return found[0] if len(found) == 1 else None
    return None


def choice(key: str, options: Sequence[str], *, free: bool = False) -> Reader:
    """One of the options; with ``free`` any other text too."""

    def read(typed: str) -> Noted:
        meant = pick(typed, options)
        if meant is None and not free:
            raise mend("not-a-choice", f"{typed!r} is not one of them", f"choose {' or '.join(options)}")
        taken = meant or typed
        return Noted({key: taken}, answer=taken, echo="" if taken == typed else taken)

    return read


def yes_no(typed: str) -> bool:
    answer = typed.casefold()
    if answer in {"y", "yes"}:
        return True
    if answer in {"n", "no"}:
        return False
    raise mend("not-yes-or-no", f"{typed!r} is neither yes nor no", "type y or n")


def day(key: str, today: dt.date) -> Reader:
    words = {"today": today, "yesterday": today - dt.timedelta(days=1)}

    def read(typed: str) -> Noted:
        try:
            date = words.get(typed.casefold()) or dt.date.fromisoformat(typed)
        except ValueError:
            raise mend("not-a-date", f"{typed!r} is not a date", f"write it like {today}") from None
        if date > today:
            raise mend("in-the-future", f"{date} is in the future", "check the date")
        return Noted({key: date.isoformat()}, answer=date.isoformat())

    return read


def with_unit(typed: str, unit: LengthUnit, quantity: Quantity) -> tuple[str, float]:
    """The text with its unit, the declared one where none was typed, and what it is in mm."""
    mm = units.parse_length(typed, unit=unit, quantity=quantity)
    try:
        units.parse_length(typed, quantity=quantity)
    except UnitError:
        return f"{typed.strip()} {unit}", mm
    return typed.strip(), mm


def size(key: str, unit: LengthUnit, quantity: Quantity) -> Reader:
    """A length or diameter under its key without the unit, so that the text as typed is kept."""

    def read(typed: str) -> Noted:
        full, mm = with_unit(typed, unit, quantity)
        shown = units.show_length(mm, "mm")
        return Noted({key: full}, echo="" if full.endswith("mm") else f"{full} = {shown}")

    return read


def foundation(lengths: LengthUnit, diameters: LengthUnit, whole: str | None = None) -> Reader:
    """``8 to 2 steel``: diameter, where it ends (the datum, or at ``whole``, when unsaid), what it is."""

    def read(typed: str) -> Noted:
        first, rest = leading_size(typed)
        if first is None:
            raise mend("no-size", f"{typed!r} names no diameter", "write it like: 8 steel, to 0")
        diameter, _ = with_unit(first, diameters, units.DIAMETER)
        span, what = taken_places(rest, lengths)
        if "from" in span:
            raise mend("foundation-from", "a foundation begins at the butt", "say only where it ends")
        if whole and "to" not in span:
            span["to"] = with_unit(whole, lengths, units.LENGTH)[0]
        found: dict[str, Any] = {"diameter": diameter, **span}
        if what:
            found["material"] = what
        ends = f"ends at {span['to']}" if "to" in span else "ends at the datum"
        return Noted(
            {"foundation": found}, echo=f"foundation {diameter}{', ' + what if what else ''}, {ends}"
        )

    return read


def leading_size(typed: str) -> tuple[str | None, str]:
    """The size that a text begins with (with its unit, if it has one) and what follows it."""
    plain = plain_marks(typed).strip()
    found = scan_length(plain)
    if found is None:
        return None, plain
    return plain[: found.end].strip(), plain[found.end :].strip(" ,;")


def taken_places(rest: str, unit: LengthUnit) -> tuple[dict[str, str], str]:
    """``from PLACE`` and ``to PLACE`` taken out of a text; the words that remain."""
    places: dict[str, str] = {}
    for word in ("from", "to"):
        found = re.search(rf"(?:^|\s|,){word}\s+(?=[\d.,½¼¾])", rest, re.IGNORECASE)
        if found:
            place, after = leading_size(rest[found.end() :])
            if place is None:
                raise mend("no-place", f"no place after {word!r}", f"write it like: {word} 12")
            places[word] = with_unit(place, unit, units.LENGTH)[0]
            rest = f"{rest[: found.start()]} {after}"
    return places, " ".join(rest.split()).strip(" ,;")


def turn_lengths(unit: LengthUnit) -> Reader:
    """``12: 2 1/2; 24: 2 1/4``: at 12 one strand needs 2 1/2 for one turn."""

    def read(typed: str) -> Noted:
        found = []
        for part in filter(None, (part.strip() for part in typed.split(";"))):
            at, colon, turn = part.partition(":")
            if not colon:
                raise mend(
                    "no-colon", f"{part!r} names no station", "write station: turn length, like 12: 2 1/2"
                )
            found.append(
                {"at": with_unit(at, unit, units.LENGTH)[0], "turn": with_unit(turn, unit, units.LENGTH)[0]}
            )
        return Noted(
            {"turn_lengths": found}, echo="; ".join(f"one turn in {x['turn']} at {x['at']}" for x in found)
        )

    return read


def words(key: str) -> Reader:
    """A list of words, such as the finish."""
    return lambda typed: Noted({key: listed(typed)})


def listed(typed: str) -> list[str]:
    return [part for part in _SPLIT.split(re.sub(r"\s+and\s+", ", ", typed.strip())) if part]


def weight(typed: str) -> Noted:
    """``412 with fall, cracker`` or ``14 1/2 oz with none``; what was on the scale may stay unsaid."""
    number, said, parts = typed.partition(" with ")
    number = re.sub(r"\s*\bbare$", "", number) if number.rstrip().endswith("bare") else number
    bare = number != typed.partition(" with ")[0]
    grams = units.parse_mass(number, unit="g")
    try:
        units.parse_mass(number)
    except UnitError:
        number = f"{number.strip()} g"
    noted: dict[str, Any] = {"weight": number.strip()}
    if bare or parts.strip() == NONE:
        noted["weight_with"] = NONE
    elif said:
        noted["weight_with"] = listed(parts)
    on_scale = noted.get("weight_with")
    beside = (
        "what was on the scale is not said"
        if on_scale is None
        else "nothing else on the scale"
        if on_scale == NONE
        else f"with {' and '.join(on_scale)}"
    )
    return Noted(noted, echo=f"{units.show_mass(grams)}, {beside}")


def balance(unit: LengthUnit) -> Reader:
    """``17 1/2 from butt, laid straight``."""

    def read(typed: str) -> Noted:
        at, rest = leading_size(typed)
        if at is None:
            raise mend(
                "no-place", f"{typed!r} names no place", "write it like: 17 1/2 from butt, laid straight"
            )
        found: dict[str, Any] = {"at": with_unit(at, unit, units.LENGTH)[0], "from": "butt"}
        side = re.match(r"from (?:the )?(butt|handle end)\b", rest, re.IGNORECASE)
        if side:
            found["from"] = side[1].lower()
            rest = rest[side.end() :]
        if rest.strip(" ,;"):
            found["how"] = rest.strip(" ,;")
        how = found.get("how", "how it was held is not said, so it cannot be compared")
        return Noted({"balance": found}, echo=f"balances {found['at']} from the {found['from']}, {how}")

    return read


def number(typed: str) -> float:
    """A number as typed: 11.5, 11,5 or 11 1/2."""
    plain = plain_marks(typed).strip()
    sign = -1 if plain.startswith("-") else 1
    found = scan_number(plain.lstrip("+-"))
    if found is None or found.end != len(plain.lstrip("+-")):
        raise mend("not-a-number", f"{typed!r} is not a number", "write it like 11.5 or 11 1/2")
    return sign * float(found.value)


def hours(key: str) -> Reader:
    def read(typed: str) -> Noted:
        return Noted({key: number(re.sub(r"\s*(?:h|hours?)$", "", typed.strip()))})

    return read


def cord_used(letters: Mapping[str, str], known: Iterable[str]) -> Reader:
    """``A 38, B 12``: metres of each cord, by letter or by name; other units when typed (``A 120 ft``)."""
    names = tuple(known)

    def read(typed: str) -> Noted:
        found = []
        for part in listed(typed):
            split = re.fullmatch(r"(?P<who>.*?\S)\s*[:=]?\s+(?P<much>\d\S*(?:\s+[^\W\d]+)?)", part)
            if split is None:
                raise mend("no-length", f"{part!r} names no cord and length", "write it like: A 38, B 12")
            who = letters.get(split["who"].upper()) or pick(split["who"], names)
            if who is None:
                raise mend(
                    "unknown-cord",
                    f"{split['who']!r} is no cord of this whip",
                    f"use {', '.join(letters) or 'its name'}",
                )
            mm = units.parse_length(split["much"], unit="m", quantity=CORD_LENGTH)
            found.append({"cord": who, "metres": mm / 1000})
        return Noted({"cord_used": found}, echo=", ".join(f"{x['metres']:g} m of {x['cord']}" for x in found))

    return read


def score(typed: str) -> float | str:
    """A rating from 1 to 10, or that it was not tried."""
    if typed.casefold() in {"x", NOT_TRIED}:
        return NOT_TRIED
    value = number(typed)
    if not 1 <= value <= 10:
        raise mend("out-of-range", f"{typed} is not a rating", "give 1 to 10, x for not tried, or nothing")
    return value


def feel(typed: str) -> float:
    """A two-sided note from -2 to +2."""
    value = number(typed)
    if not -2 <= value <= 2:
        raise mend("out-of-range", f"{typed} is not from -2 to +2", "give -2, -1, 0, 1 or 2")
    return value
