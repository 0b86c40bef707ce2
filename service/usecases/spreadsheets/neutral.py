"""Texts that a spreadsheet program would run as a formula, made neutral and brought back.

Source: OWASP Application Security Verification Standard 5.0, requirement 1.2.10: in exports to CSV or
spreadsheets a text that begins with = + - @, a tab or a null is preceded by an apostrophe; its page on CSV
injection adds the carriage return and the full-width signs, which some programs take for the plain ones.
Programs differ in whether they pass over blanks and quotes before the sign, so those count as well.
"""

import re
from typing import Final

_RUNS: Final = re.compile(r"[\s'\"\u200b\ufeff]*[=+\-@\t\r\n\0＝＋－＠]")
_APOSTROPHE: Final = "'"


def neutral(text: str) -> str:
    """The text as it goes into a cell: behind an apostrophe where a program might run it."""
    return _APOSTROPHE + text if _RUNS.match(text) else text


def plain(text: str) -> str:
    """The text that was made neutral: ``plain(neutral(text)) == text`` for every text.

    An apostrophe goes only where a text follows that ``neutral`` would have put it before. As a text that
    begins with an apostrophe and then a sign gets another one, none is taken too many.
    """
    rest = text[1:]
    return rest if text.startswith(_APOSTROPHE) and _RUNS.match(rest) else text
