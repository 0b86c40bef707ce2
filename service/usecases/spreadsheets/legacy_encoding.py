"""The guess at the encoding of a text that is not Unicode: by charset-normalizer, and by impossible words.

A text whose only letters beyond ASCII are signs of measures in cp1252 (½ in, ± 0.1, Ø 12) is in cp1252.
Single-byte encodings give each byte some letter, and a few words of a table seldom tell them apart. Of those
that charset-normalizer holds possible, the one with the fewest impossible words is taken, then the one that
it finds least messy, then the one that office programs use most.
"""

import re
import unicodedata
from itertools import pairwise
from typing import Final

# What office programs save text in, the most usual first.
_LEGACY: Final = {
    name: place
    for place, name in enumerate(
        [
            "cp1252",
            "cp1250",
            "cp1251",
            "cp1253",
            "cp1254",
            "cp1257",
            "mac_roman",
            "cp850",
            "cp932",
            "gb18030",
            "big5",
            "cp949",
        ]
    )
}
_MOST_MESS: Final = 0.5  # share of mess above which charset-normalizer gives an encoding up
_WORD: Final = re.compile(r"[^\s,;|\"'()/\x00-\x1f]+")
# Fractions, signs and quotes as they stand beside measures; charset-normalizer takes ½ for a letter.
_OF_MEASURES: Final = frozenset("¼½¾±°Øø×·²³´‘’“”–—…")
_SYMBOLS: Final = ("Sc", "Sm", "So", "Sk")
_WITHIN_WORDS: Final = "°"


def guess(sample: bytes) -> str:
    """Name of the Python codec of a text that is known not to be UTF-8; cp1252 where nothing fits."""
    from charset_normalizer import from_bytes

    as_usual = sample.decode("cp1252", "replace")
    if _OF_MEASURES.issuperset(letter for letter in as_usual if not letter.isascii()):
        return "cp1252"
    found = from_bytes(sample, cp_isolation=list(_LEGACY), threshold=_MOST_MESS)
    ranked = sorted(
        (_impossible(str(match)), round(match.chaos, 2), _LEGACY.get(name, len(_LEGACY)), name)
        for match in found
        for name in {match.encoding, *match.could_be_from_charset}
    )
    return ranked[0][-1] if ranked else "cp1252"


def _impossible(text: str) -> int:
    """Words with a capital after a small letter, letters of two scripts, or a symbol beside a letter."""
    return sum(not word.isascii() and _cannot_be(word) for word in _WORD.findall(text))


def _cannot_be(word: str) -> bool:
    scripts = {unicodedata.name(letter, "").split()[0] for letter in word if letter.isalpha()}
    if len(scripts & {"LATIN", "CYRILLIC", "GREEK", "HALFWIDTH"}) > 1:
        return True
    for left, right in pairwise(word):
        if left.isascii() and right.isascii():
            continue
        if left.islower() and right.isupper():
            return True
        if left in "¹²³" and right.isalpha():
            return True
        if (left.isalpha() and _symbol(right)) or (right.isalpha() and _symbol(left)):
            return True
    return False


def _symbol(character: str) -> bool:
    if character.isascii() or character in _WITHIN_WORDS:
        return False
    return unicodedata.category(character) in _SYMBOLS
