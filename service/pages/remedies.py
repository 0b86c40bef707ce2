"""Remedies as a page says them: use cases name commands, as they serve the terminal too."""

import re
from typing import Final

_HERE: Final = (
    (r"'plaitlog whips' and 'plaitlog cords' list them", "see the lists of whips and of cords"),
    (r"'plaitlog (whips|cords|makers)' lists them", r"see the list of \1"),
    (r"plaitlog (whips|cords|makers) lists them", r"see the list of \1"),
    (r"'plaitlog history' lists them", "see the history"),
    (r"see plaitlog fits", "see the list of fits"),
    (r"'plaitlog show' says", "the whip's page says"),
    (r"show LABEL says what a whip lacks", "the whip's page says what it lacks"),
    (r"\bthen run fit\b", "then make a fit"),
    (r"\brun fit\b", "fit again"),
)


def on_a_page(remedy: str) -> str:
    """The remedy with pages in the place of commands."""
    for command, page in _HERE:
        remedy = re.sub(command, page, remedy)
    return remedy
