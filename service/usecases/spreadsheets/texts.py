"""Free text in a cell: quoted as in JSON where a cell by itself would not give it back letter for letter.

A cell cannot tell an empty text from none, programs cut blanks at the ends and turn line ends about, and
xlsx has no room for some characters.
"""

import json
import re
import unicodedata
from typing import Final

_ESCAPED_LIKE: Final = re.compile("_x[0-9A-Fa-f]{4}_")
_LINES: Final = 20
_ODD: Final = frozenset({"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"})


def write_text(text: str) -> str:
    """The text as it goes into a cell."""
    if not _is_plain(text):
        return json.dumps(text).replace("_", "\\u005f" if _ESCAPED_LIKE.search(text) else "_")
    return text


def read_text(cell: str) -> str:
    """The text that a cell holds."""
    text = cell.strip()
    if len(text) >= 2 and text.startswith('"') and text.endswith('"'):
        try:
            found = json.loads(text)
        except ValueError:
            return text
        if isinstance(found, str):
            return found
    return text


def _is_plain(text: str) -> bool:
    return (
        bool(text)
        and text == text.strip()
        and not (text.startswith('"') and text.endswith('"'))
        and not _ESCAPED_LIKE.search(text)
        and text.count("\n") <= _LINES
        and not any(unicodedata.category(each) in _ODD and each != "\n" for each in text)
    )
