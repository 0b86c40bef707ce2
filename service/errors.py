"""One table: what each error of this project means to whoever called the program."""

from typing import Final, NamedTuple

from plaitlog.models.errors import (
    AlreadyThereError,
    ArtifactError,
    BusyDatabaseError,
    DatabaseError,
    FitError,
    InputError,
    NotFoundError,
    PlaitlogError,
    PlanError,
    StackNotKnownError,
    StaleEditError,
    UndoError,
)

WITH_FINDINGS: Final = 1
"""The work was done with findings or errors of single lines, and the caller asked to be strict."""
REFUSED: Final = 2
"""Nothing was written; the message names place, value and remedy."""


class Meaning(NamedTuple):
    """What an error is to a person at the command line, and to a program that speaks HTTP."""

    exit_code: int
    status: int


MEANINGS: Final[dict[type[PlaitlogError], Meaning]] = {
    InputError: Meaning(REFUSED, 422),
    NotFoundError: Meaning(REFUSED, 404),
    AlreadyThereError: Meaning(REFUSED, 409),
    StaleEditError: Meaning(REFUSED, 409),
    UndoError: Meaning(REFUSED, 409),
    StackNotKnownError: Meaning(REFUSED, 409),
    FitError: Meaning(REFUSED, 422),
    ArtifactError: Meaning(REFUSED, 500),
    PlanError: Meaning(REFUSED, 422),
    DatabaseError: Meaning(REFUSED, 503),
    BusyDatabaseError: Meaning(REFUSED, 503),
}


def exit_code(error: PlaitlogError) -> int:
    """Exit code of an error: that of the nearest class in the table."""
    return _meaning(error).exit_code


def status(error: PlaitlogError) -> int:
    """HTTP status of an error: that of the nearest class in the table."""
    return _meaning(error).status


def _meaning(error: PlaitlogError) -> Meaning:
    for kind in type(error).__mro__:
        if kind in MEANINGS:
            return MEANINGS[kind]
    return Meaning(REFUSED, 500)
