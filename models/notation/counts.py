"""Strand counts and the cords' letters in the line notation: ``16A``, ``8A+8B``, ``12..16``, ``-2A -2B``."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from string import ascii_uppercase
from typing import Final

from plaitlog.models.notation.text import DOTS, Cursor
from plaitlog.models.whip import LayerCord, Span, exactly

Counts = dict[str, Span]
"""Strands per letter, in order of appearance; the letter is "" where no cord is named."""

_WHOLE: Final = r"[0-9]{1,4}(?![0-9]|[.,][0-9])"
_SHARE: Final = r"[0-9]{1,4}[.,][0-9]{1,20}"  # 6.5A+6.5B: thirteen strands, which cord has seven is not known
_COUNT: Final = re.compile(
    rf"({_SHARE}|{_WHOLE})(?:{DOTS}({_SHARE}|{_WHOLE}))?([A-Za-z])?(?![A-Za-z0-9]|[.,][0-9])"
)
_PLUS: Final = re.compile(r"\+")
_DELTA: Final = re.compile(r"([-+]) ?([0-9]{1,4})([A-Za-z])?(?![A-Za-z0-9]|[.,][0-9])")


@dataclass(frozen=True, slots=True)
class CordsInPlay:
    """The cords a line may name, by letter; ``listed``: they are the layer's own, with their shares."""

    by_letter: Mapping[str, LayerCord]
    listed: bool

    def known(self) -> str:
        return ", ".join(f"{letter} {cord.cord}" for letter, cord in self.by_letter.items())


def cords_in_play(letters: Mapping[str, str], cords: Sequence[LayerCord]) -> CordsInPlay:
    """The layer's own cords where it lists some (lettered as named, else in order), else all named ones."""
    if not cords:
        return CordsInPlay({x.upper(): LayerCord(name, 1.0, x.upper()) for x, name in letters.items()}, False)
    return CordsInPlay({cord.letter or "": cord for cord in lettered(cords, letters)}, True)


def lettered(cords: Sequence[LayerCord], letters: Mapping[str, str] | None = None) -> tuple[LayerCord, ...]:
    """The cords, each with a letter: its own, the one named for it, or the next that is free."""
    named = {name: letter.upper() for letter, name in (letters or {}).items()}
    taken = {cord.letter or named.get(cord.cord, "") for cord in cords}
    free = (letter for letter in ascii_uppercase if letter not in taken and letter not in named.values())
    return tuple(replace(cord, letter=cord.letter or named.get(cord.cord) or next(free)) for cord in cords)


def take_counts(cursor: Cursor, play: CordsInPlay, running: Counts) -> Counts | None:
    """Counts that set the whole layer (``16A``, ``8A+8B``, ``12..16``); None if no count stands here."""
    cursor.skip_blanks()
    start = cursor.pos
    terms: list[tuple[Span, str]] = []
    while found := cursor.take(_COUNT):
        low, high = (float((bound or found[1]).replace(",", ".")) for bound in found.groups()[:2])
        if low > high:
            raise cursor.refuse("count-range", "runs backwards", f"write {high:g}..{low:g}", found.start())
        terms.append((Span(low, high), _letter(cursor, found.start(3), found[3], play)))
        if not cursor.take(_PLUS):
            break
    if not terms:
        return None
    parts = len(terms) > 1 and all(letter for _, letter in terms)
    if not parts and not all(bound.is_integer() for count, _ in terms for bound in (count.low, count.high)):
        raise cursor.refuse("count-part", "is no whole number of strands", "write a whole number", start)
    if len(terms) == 1 and not terms[0][1]:
        return spread(cursor, terms[0][0], play, running, start)
    counts: Counts = {}
    for count, letter in terms:
        if not letter or letter in counts:
            raise cursor.refuse("count-letter", "does not say which cord", "write 8A+8B", start)
        counts[letter] = count
    left_out = [x for x, count in running.items() if count.high > 0 and x not in counts]
    if left_out:
        also = "+".join(f"{_bounds(running[x])}{x}" for x in left_out)
        raise cursor.refuse(
            "count-incomplete",
            f"leaves out cord {', '.join(left_out)}",
            f"add +{also}, or +0{left_out[0]}",
            start,
        )
    return {**dict.fromkeys(running, exactly(0)), **counts}


@dataclass(frozen=True, slots=True)
class Delta:
    """Strands added (positive) or dropped, of one cord or of the running ones in proportion (letter "")."""

    strands: int
    letter: str
    start: int


def take_delta(cursor: Cursor, play: CordsInPlay) -> Delta | None:
    """A change ``-2``, ``+2A``; None if none stands here."""
    found = cursor.take(_DELTA)
    if found is None:
        return None
    letter = _letter(cursor, found.start(3), found[3], play)
    return Delta(int(found[1] + found[2]), letter, found.start())


def changed(cursor: Cursor, running: Counts, deltas: Sequence[Delta], play: CordsInPlay) -> Counts:
    """The counts after the changes."""
    counts = dict(running)
    for delta in deltas:
        amount = exactly(abs(delta.strands))
        parts = {delta.letter: amount} if delta.letter else spread(cursor, amount, play, counts, delta.start)
        for letter, part in parts.items():
            shift = part.low if delta.strands > 0 else -part.low
            was = counts.get(letter, exactly(0))
            if was.high + shift < 0:
                of = f" of {letter}" if letter else ""
                raise cursor.refuse(
                    "count-negative",
                    f"drops more than the {was.high:g}{of} that run there",
                    "check the counts",
                    delta.start,
                )
            counts[letter] = Span(max(was.low + shift, 0), was.high + shift)
    return counts


def spread(cursor: Cursor, total: Span, play: CordsInPlay, running: Counts, start: int) -> Counts:
    """A count without a letter, dealt to the cords that run, else to the listed ones by their shares."""
    weights = {letter: count.mid for letter, count in running.items() if count.high > 0}
    if len(running) == 1:
        weights = dict.fromkeys(running, 1.0)
    if len(weights) > 1 and not all(running[letter].exact for letter in weights):
        weights = dict.fromkeys(weights, 0.0)
    if not weights:
        weights = {x: cord.share if play.listed else 1.0 for x, cord in play.by_letter.items()} or {"": 1.0}
        if len(weights) > 1 and not play.listed:
            weights = dict.fromkeys(weights, 0.0)
    if len(weights) == 1:
        return {**dict.fromkeys(running, exactly(0)), next(iter(weights)): total}
    whole = sum(map(Fraction, weights.values()), Fraction(0))
    parts = {
        x: (Fraction(total.low) * Fraction(w) / whole, Fraction(total.high) * Fraction(w) / whole)
        for x, w in weights.items()
        if whole
    }
    if not parts or any(bound.denominator != 1 for part in parts.values() for bound in part):
        raise cursor.refuse(
            "count-letter",
            "does not say which cord, and does not part evenly",
            f"add the cord's letter; known here: {play.known()}",
            start,
        )
    return {
        **dict.fromkeys(running, exactly(0)),
        **{x: Span(float(low), float(high)) for x, (low, high) in parts.items()},
    }


def _letter(cursor: Cursor, start: int, typed: str | None, play: CordsInPlay) -> str:
    if typed is None:
        return ""
    letter = typed.upper()
    if letter not in play.by_letter:
        remedy = (
            f"known here: {play.known()}"
            if play.by_letter
            else "no cord is named yet: name it, or leave the letter out"
        )
        raise cursor.refuse("letter-unknown", "is the letter of no cord here", remedy, start)
    return letter


def _bounds(count: Span) -> str:
    return _number(count.low) if count.exact else f"{_number(count.low)}..{_number(count.high)}"


def _number(strands: float) -> str:
    return f"{strands:.0f}" if float(strands).is_integer() else repr(float(strands))


def print_counts(counts: Sequence[Span], letters: Sequence[str]) -> str:
    """Counts in notation: ``16``, ``8A+8B``, ``12..16A``."""
    return "+".join(f"{_bounds(count)}{letter}" for count, letter in zip(counts, letters, strict=True))


def print_delta(deltas: Sequence[int], letters: Sequence[str]) -> str:
    """Changes in notation: ``-2``, ``-2A -2B``; the letter only where there are several cords."""
    if len(deltas) == 1:
        return f"{deltas[0]:+d}"
    return " ".join(f"{n:+d}{letter}" for n, letter in zip(deltas, letters, strict=True) if n)
