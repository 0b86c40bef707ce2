"""One table: what each error of this project means to whoever called the program."""

from typing import Final

from plaitlog.models.errors import (
    DatabaseError,
    FitError,
    InputError,
    PlaitlogError,
    StackNotKnownError,
)

WITH_FINDINGS: Final = 1
"""The work was done with findings or errors of single lines, and the caller asked to be strict."""
REFUSED: Final = 2
"""Nothing was written; the message names place, value and remedy."""

EXIT_CODES: Final[dict[type[PlaitlogError], int]] = {
    InputError: REFUSED,
    StackNotKnownError: REFUSED,
    FitError: REFUSED,
    DatabaseError: REFUSED,
}


def exit_code(error: PlaitlogError) -> int:
    """Exit code of an error: that of the nearest class in the table."""
    for kind in type(error).__mro__:
        if kind in EXIT_CODES:
            return EXIT_CODES[kind]
    return REFUSED
