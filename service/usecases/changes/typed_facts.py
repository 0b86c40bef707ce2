"""A whip's own facts as one types them: each field with what stands in it and what a text in it changes.

The texts are those of the recording dialogue, so that whoever has recorded a whip can edit one.
"""

import datetime as dt
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from plaitlog.models import units
from plaitlog.models.errors import Finding, InputError
from plaitlog.models.units import show_mass
from plaitlog.models.whip import DATUMS, NONE, STATUSES
from plaitlog.service.usecases.recording import answers
from plaitlog.service.usecases.recording.dialogue import Noted, mend
from plaitlog.service.usecases.recording.questions import TYPES
from plaitlog.service.usecases.shown_units import ShownUnits

Record = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One field. ``keys``: those of the record that it stands for; all of them go where it is emptied.

    text : what stands in it. read : what a text adds to the record; InputError. choices : what may be picked
    (``open``: or anything else typed). none : "none" means that it is known to be absent.
    """

    key: str
    name: str
    keys: tuple[str, ...]
    text: Callable[[Record], str]
    read: answers.Reader
    hint: str = ""
    choices: tuple[str, ...] = ()
    open: bool = False
    none: bool = False
    long: bool = False

    def changes(self, typed: str) -> dict[str, Any]:
        """The changes of the record that this text means; empty: it is not known.

        Raises
        ------
        InputError
            The text says nothing that could be kept here.
        """
        if not typed:
            return dict.fromkeys(self.keys)
        if typed.casefold() == NONE:
            if not self.none:
                text = f"{self.name}: none has no meaning here"
                raise InputError(Finding("none-has-no-meaning", text, "leave it empty where it is not known"))
            return {**dict.fromkeys(self.keys), self.key: NONE}
        return {**dict.fromkeys(self.keys), **self.read(typed).whip}


def facts_to_type(
    shown: ShownUnits, *, makers: Sequence[str], cords: Iterable[str], today: dt.date
) -> tuple[Fact, ...]:
    """Every field of a whip's own facts, in the order of recording; bare numbers are meant in ``shown``."""
    lengths, diameters = shown.lengths, shown.diameters
    names = tuple(cords)
    return (
        _plain("label", "Label"),
        _chosen("type", "Type", TYPES),
        _chosen("maker", "Maker", tuple(makers)),
        _chosen("status", "Status", STATUSES, only=True),
        _plain("made_on", "Finished on", answers.day("made_on", today), "A date such as 2026-03-02."),
        _plain("build_number", "Number", _whole("build_number"), "The maker's own running number."),
        _chosen("datum", "Stations are counted from", DATUMS, only=True),
        _size("thong_length", f"Thong length ({lengths})", shown, units.LENGTH),
        _size("handle_length", f"Handle length ({lengths})", shown, units.LENGTH, none=True),
        _size("handle_diameter", f"Handle over everything ({diameters})", shown, units.DIAMETER),
        _plain("quoted_length", "Length as quoted", hint="Saying what it includes."),
        Fact(
            key="foundation",
            name=f"Foundation ({diameters}), where it ends ({lengths}), what it is",
            keys=("foundation",),
            text=lambda record: _foundation(record.get("foundation"), shown),
            read=answers.foundation(lengths, diameters),
            hint="Such as: 8 to 0 steel.",
            none=True,
        ),
        Fact(
            key="turn_lengths",
            name=f"Turn lengths ({lengths})",
            keys=("turn_lengths",),
            text=lambda record: "; ".join(_turn(one, shown) for one in record.get("turn_lengths", ())),
            read=_turns(shown),
            hint="Station: length of one turn. Such as: 12: 2 1/2; 24: 2 1/4 on layer 2.",
            long=True,
        ),
        Fact(
            key="finish",
            name="Finish",
            keys=("finish",),
            text=lambda record: _words(record.get("finish")),
            read=answers.words("finish"),
            hint="Such as: rolled, waxed.",
            none=True,
        ),
        Fact(
            key="weight",
            name="Weight (g), and with what",
            keys=("weight_g", "weight", "weight_with"),
            text=lambda record: _weight(record, "weight_with"),
            read=answers.weight,
            hint="Such as: 412 with fall, cracker. Or: 412 with none.",
        ),
        Fact(
            key="weights",
            name="Weights along the way (g)",
            keys=("weights",),
            text=lambda record: "; ".join(map(_weighing, record.get("weights", ()))),
            read=_weighings,
            hint="Such as: 210 after layer 2; 336 after layer 4.",
        ),
        Fact(
            key="balance",
            name=f"Balance point ({lengths}), from where, how held",
            keys=("balance",),
            text=lambda record: _balance(record.get("balance"), shown),
            read=answers.balance(lengths),
            hint="Such as: 17 1/2 from butt, laid straight.",
        ),
        Fact(
            key="hours",
            name="Hours of work",
            keys=("hours",),
            text=lambda record: _number(record.get("hours"), shown),
            read=answers.hours("hours"),
        ),
        Fact(
            key="cord_used",
            name="Cord used (m)",
            keys=("cord_used",),
            text=lambda record: _cord_used(record.get("cord_used", ()), shown),
            read=answers.cord_used({}, names),
            hint="Name and metres of each cord, parted by semicolons.",
            long=True,
        ),
        _plain("fall", "Fall", none=True),
        _plain("cracker", "Cracker", none=True),
        _plain("notes", "Notes", long=True),
    )


def _plain(
    key: str,
    name: str,
    read: answers.Reader | None = None,
    hint: str = "",
    *,
    none: bool = False,
    long: bool = False,
) -> Fact:
    return Fact(
        key=key, name=name, keys=(key,), text=lambda record: str(record.get(key, "")),
        read=read or answers.text(key), hint=hint, none=none, long=long,
    )  # fmt: skip


def _chosen(key: str, name: str, choices: tuple[str, ...], *, only: bool = False) -> Fact:
    """A field in which one of several is picked; what is typed whole and is none of them stands as it is."""
    return Fact(
        key=key, name=name, keys=(key,), text=lambda record: str(record.get(key, "")),
        read=answers.choice(key, choices) if only else answers.text(key), choices=choices, open=not only,
    )  # fmt: skip


def _size(key: str, name: str, shown: ShownUnits, quantity: units.Quantity, *, none: bool = False) -> Fact:
    unit = shown.lengths if quantity is units.LENGTH else shown.diameters
    of = shown.long_length if key == "thong_length" else shown.length
    if quantity is units.DIAMETER:
        of = shown.diameter
    return Fact(
        key=key,
        name=name,
        keys=(f"{key}_mm", key),
        text=lambda record: size_text(record, key, of),
        read=answers.size(key, unit, quantity),
        none=none,
    )


def size_text(record: Record, key: str, of: Callable[[float], str]) -> str:
    """A size as it was typed, else as ``of`` shows its millimetres; empty where it is not known."""
    if key in record:
        return str(record[key])
    mm = record.get(f"{key}_mm")
    return NONE if mm == NONE else "" if mm is None else of(mm)


def _whole(key: str) -> answers.Reader:
    def read(typed: str) -> Noted:
        value = answers.number(typed)
        if value < 0 or value != int(value):
            raise mend("not-whole", f"{typed!r} is not a whole number", "write it like 14")
        return Noted({key: int(value)})

    return read


def _number(value: float | None, shown: ShownUnits) -> str:
    return "" if value is None else shown.number(f"{value:g}")


def _words(value: Sequence[str] | str | None) -> str:
    return value if isinstance(value, str) else ", ".join(value or ())


def _foundation(value: Any, shown: ShownUnits) -> str:
    if not isinstance(value, Mapping):
        return value or ""
    to = size_text(value, "to", shown.length)
    parts = (
        size_text(value, "diameter", shown.diameter),
        f"to {to}" if to else "",
        value.get("material", ""),
    )
    return " ".join(filter(None, parts))


def _turn(turn: Record, shown: ShownUnits) -> str:
    at, length = size_text(turn, "at", shown.length), size_text(turn, "turn", shown.length)
    return f"{at}: {length}{_layer_words(turn, 'on')}"


def _layer_words(record: Record, word: str) -> str:
    return "" if record.get("after_layer") is None else f" {word} layer {record['after_layer']}"


_ON_LAYER: Final = re.compile(r"\s*,?\s*(?:on|after)\s+layer\s+(\d{1,2})\s*$", re.IGNORECASE)


def _without_layer(part: str) -> tuple[str, dict[str, int]]:
    """A part of a list without "on layer 2" at its end, and that as a key of its record."""
    found = _ON_LAYER.search(part)
    return (part, {}) if found is None else (part[: found.start()], {"after_layer": int(found[1])})


def _turns(shown: ShownUnits) -> answers.Reader:
    read_one = answers.turn_lengths(shown.lengths)

    def read(typed: str) -> Noted:
        found = []
        for part in filter(None, map(str.strip, typed.split(";"))):
            bare, layer = _without_layer(part)
            found += [{**one, **layer} for one in read_one(bare).whip["turn_lengths"]]
        return Noted({"turn_lengths": found})

    return read


def _weight(record: Record, parts: str) -> str:
    text = record.get("weight") or ("" if record.get("weight_g") is None else show_mass(record["weight_g"]))
    on_scale = _words(record.get(parts))
    return f"{text} with {on_scale}" if text and on_scale else text


def _weighing(record: Record) -> str:
    return f"{_weight(record, 'with')}{_layer_words(record, 'after')}"


def _weighings(typed: str) -> Noted:
    found = []
    for part in filter(None, map(str.strip, typed.split(";"))):
        bare, layer = _without_layer(part)
        noted = answers.weight(bare).whip
        beside = {"with": noted["weight_with"]} if "weight_with" in noted else {}
        found.append({"weight": noted["weight"], **beside, **layer})
    return Noted({"weights": found})


def _balance(balance: Record | None, shown: ShownUnits) -> str:
    if balance is None:
        return ""
    how = f", {balance['how']}" if balance.get("how") else ""
    return f"{size_text(balance, 'at', shown.length)} from {balance['from']}{how}"


def _cord_used(uses: Sequence[Record], shown: ShownUnits) -> str:
    return "; ".join(f"{use['cord']} {_number(use['metres'], shown)}" for use in uses)
