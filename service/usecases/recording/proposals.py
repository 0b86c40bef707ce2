"""What the recording dialogue proposes: from the type's common practice and from the last whip."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from plaitlog.models.units import show_length
from plaitlog.models.whip import NONE, Cord, Foundation, Role, Whip
from plaitlog.service.usecases.recording.dialogue import Bench, Draft

# Which parts a type has, and what its quoted length includes: common practice, no source.
TEST_PLAIT: Final = "test plait"
WITHOUT_HANDLE: Final = frozenset({"snake whip", "signal whip", "test plait"})
WITHOUT_FOUNDATION: Final = frozenset({"snake whip", "signal whip", "stock whip", "cow whip"})
WITHOUT_FALL: Final = frozenset({"signal whip", "test plait"})
ROLES_OF_TYPE: Final[Mapping[str, tuple[Role, ...]]] = {"test plait": ("overlay",)}
USUAL_ROLES: Final[tuple[Role, ...]] = ("core", "belly", "overlay")


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposals:
    """Proposed answers, as text; empty where nothing is proposed."""

    label: str
    type: str
    maker: str
    datum: str
    thong_length: str
    handle_length: str
    handle_diameter: str
    quoted_length: str
    foundation: str
    finish: str
    fall: str
    cracker: str
    material: str
    roles: tuple[Role, ...]
    has_handle: bool
    is_plait: bool
    cords: Mapping[str, Cord]
    last: Whip | None

    def cord(self, letter: str | None, place: int, named: Mapping[str, str]) -> str:
        """The cord proposed for a letter, or for the layer at a place (from 1) that names none."""
        if letter is None:
            if named:
                return list(named.values())[-1]
            if self.last is not None and place <= len(self.last.layers) and self.last.layers[place - 1].cords:
                return self.last.layers[place - 1].cords[0].cord
        lettered = letters_of_whip(self.last) if self.last else {}
        if letter in lettered and lettered[letter] not in named.values():
            return lettered[letter]
        free = [name for name in (*lettered.values(), *self.cords) if name not in named.values()]
        return free[0] if free else ""


def letters_of_whip(whip: Whip) -> dict[str, str]:
    """The cords of a whip by letter: as noted, else in the order in which they occur."""
    found: dict[str, str] = {}
    for layer in whip.layers:
        for cord in layer.cords:
            if cord.letter and cord.cord not in found.values():
                found[cord.letter] = cord.cord
    free = (letter for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" if letter not in found)
    for layer in whip.layers:
        for cord in layer.cords:
            if cord.cord not in found.values():
                found[next(free)] = cord.cord
    return found


def proposals(draft: Draft, bench: Bench) -> Proposals:
    """What to propose, given the answers so far."""
    last = bench.last
    kind = draft.text("type") or ""
    alike = last if last is not None and draft.mode == "new" and last.type == kind else None
    absent = NONE if kind in WITHOUT_FOUNDATION else ""
    no_fall = NONE if kind in WITHOUT_FALL else ""
    length = draft.text("thong_length") or ""
    same = alike is not None and length == typed(alike, "thong_length_mm", "ft-in")
    return Proposals(
        label=next_label(bench),
        type=(last and last.type) or "bullwhip",
        maker=(last and last.maker) or (bench.makers[0] if len(bench.makers) == 1 else ""),
        datum=(alike and alike.datum) or "handle end",
        thong_length=typed(alike, "thong_length_mm", "ft-in"),
        handle_length=typed(alike, "handle_length_mm", "in"),
        handle_diameter=typed(alike, "handle_diameter_mm", "mm"),
        quoted_length=(same and alike and alike.quoted_length) or "",
        foundation=foundation_text(alike) or absent,
        finish=_words(alike and alike.finish),
        fall=(alike and alike.fall) or no_fall,
        cracker=(alike and alike.cracker) or ("" if kind != "test plait" else NONE),
        material=_likely_material(bench),
        roles=tuple(layer.role for layer in alike.layers)
        if alike and alike.layers
        else ROLES_OF_TYPE.get(kind, USUAL_ROLES),
        has_handle=kind not in WITHOUT_HANDLE,
        is_plait=kind == TEST_PLAIT,
        cords=bench.cords,
        last=last,
    )


def next_label(bench: Bench) -> str:
    """This year's highest number and one; where labels do not begin with a year the last label counted on."""
    return _label_after(bench.labels, bench.last and bench.last.label, str(bench.today.year))


@lru_cache(maxsize=4)  # asked with every question, and the labels of a bench stay the same
def _label_after(labels: frozenset[str], last: str | None, year: str) -> str:
    numbered = [x for label in labels if (x := re.fullmatch(r"((?:19|20)\d\d\D)(\d+)", label))]
    this_year = [x for x in numbered if x[1].startswith(year)]
    found = last and re.fullmatch(r"(.*?)(\d+)(\D*)", last)
    if this_year:
        highest = max(this_year, key=lambda x: int(x[2]))
        prefix, digits, tail = highest[1], highest[2], ""
    elif numbered or last is None:
        separator = numbered[0][1][4:] if numbered else "-"
        width = len(numbered[0][2]) if numbered else 3
        prefix, digits, tail = f"{year}{separator}", "0" * width, ""
    elif found:
        prefix, digits, tail = found[1], found[2], found[3]
    else:
        prefix, digits, tail = f"{last}-", "1", ""
    number = int(digits)
    while True:
        number += 1
        label = f"{prefix}{number:0{len(digits)}d}{tail}"
        if label not in labels:
            return label


def typed(whip: Whip | None, key: str, style: str) -> str:
    """A length of a whip as it was typed, else in the given style; empty where it is not known."""
    value = getattr(whip, key, None)
    if whip is None or not isinstance(value, float | int):
        return NONE if value == NONE else ""
    text = whip.typed.get(key) or whip.typed.get(key.removesuffix("_mm"))
    return text or show_length(value, "ft-in" if style == "ft-in" else "in" if style == "in" else "mm")


def foundation_text(whip: Whip | None) -> str:
    if whip is None or whip.foundation is None:
        return ""
    if not isinstance(whip.foundation, Foundation):
        return NONE
    found = whip.foundation
    end = "" if found.to_mm is None else f" to {show_length(found.to_mm, 'mm')}"
    return f"{show_length(found.diameter_mm, 'mm')}{end}{' ' + found.material if found.material else ''}"


def _words(value: object) -> str:
    return ", ".join(value) if isinstance(value, tuple) else str(value or "")


def _likely_material(bench: Bench) -> str:
    materials = [cord.material for cord in bench.cords.values()]
    return max(set(materials), key=materials.count) if materials else "nylon"
