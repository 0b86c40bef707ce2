"""Everything that can go wrong, and everything worth pointing out.

    PlaitlogError
    ├── InputError              what was typed or sent cannot be taken; nothing was written
    │   ├── UnitError           a length or mass that cannot be read
    │   ├── NotationError       a line of notation that cannot be read
    │   ├── RecordError         one record (a line of a file, a form) is refused
    │   ├── ImportRefusedError  a file is refused whole; carries one finding per refused row
    │   ├── TableError          a file cannot be read as a table
    │   ├── NotFoundError       a label or name that is not in the workshop
    │   ├── AlreadyThereError   a label or name that is taken already
    │   ├── StaleEditError      an edit rests on a version that is no longer the stored one
    │   └── UndoError           a change cannot be undone, or done again, as things stand
    ├── StackNotKnownError      the layers at a station are not fully known
    ├── FitError                a regression cannot be carried out
    │   └── ArtifactError       a stored fit does not reproduce its own objective
    ├── PlanError               no plan can be made of what is asked
    └── DatabaseError           the database cannot be used as it is
        ├── NewerDatabaseError  it was written by a newer version
        ├── BusyDatabaseError   somebody else holds the lock
        └── BackupError         a backup cannot be made, or a file cannot be restored

A *finding* is the same thing as data: a remark that travels beside a result instead of stopping it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches


@dataclass(frozen=True, slots=True)
class Finding:
    """Something the maker should know.

    Attributes
    ----------
    code : short name in lower case with hyphens, stable for programs (``odd-count``).
    text : what was found, with the value (one sentence).
    remedy : what the maker can do about it; empty where nothing needs mending.
    where : the place: a key, a column, a label, a character range; empty where it concerns the whole.
    """

    code: str
    text: str
    remedy: str = ""
    where: str = ""

    def at(self, place: str) -> "Finding":
        """The same finding seen from further out: ``place`` is put before ``where``."""
        return replace(self, where=f"{place}, {self.where}" if self.where else place)

    def __str__(self) -> str:
        head = f"{self.where}: " if self.where else ""
        tail = f"; {self.remedy}" if self.remedy else ""
        return f"{head}{self.text}{tail}"


def nearest_or(name: str, known: Iterable[str], otherwise: str, cutoff: float = 0.6) -> str:
    """The remedy for a name that is not known: the known one that resembles it most, else ``otherwise``.

    ``cutoff``: least resemblance, 0 to 1 (``difflib.get_close_matches``).
    """
    close = get_close_matches(name, list(known), n=1, cutoff=cutoff)
    return f"did you mean {close[0]!r}?" if close else otherwise


class PlaitlogError(Exception):
    """Base of all errors of this project; ``finding`` says what, where and how to mend it."""

    def __init__(self, finding: Finding) -> None:
        super().__init__(str(finding))
        self.finding = finding


class InputError(PlaitlogError):
    """What was typed or sent cannot be taken."""


class UnitError(InputError):
    """A length or mass that cannot be read."""


class NotationError(InputError):
    """A line of notation that cannot be read."""


class RecordError(InputError):
    """One record is refused; ``findings`` holds all that is to be mended, ``finding`` the first of it."""

    def __init__(self, finding: Finding, *others: Finding) -> None:
        super().__init__(finding)
        self.findings = (finding, *others)


class ImportRefusedError(InputError):
    """A file is refused whole; ``findings`` holds one entry per refused row."""

    def __init__(self, finding: Finding, findings: tuple[Finding, ...]) -> None:
        super().__init__(finding)
        self.findings = findings


class TableError(InputError):
    """A file cannot be read as a table."""


class NotFoundError(InputError):
    """A label or name that is not in the workshop."""


class AlreadyThereError(InputError):
    """What is to be added is in the workshop already."""


class StaleEditError(InputError):
    """An edit or removal rests on a version of the record that is no longer the stored one.

    Attributes
    ----------
    version : the version stored now, which is the number of the change it comes from.
    conflicts : for each key whose values differ, what was typed and what is stored now (None: nothing).
    """

    def __init__(
        self, finding: Finding, version: int, conflicts: Mapping[str, tuple[object, object]]
    ) -> None:
        super().__init__(finding)
        self.version = version
        self.conflicts = dict(conflicts)


class UndoError(InputError):
    """A change cannot be undone, or done again, as things stand; ``findings`` hold what is in the way."""

    def __init__(self, finding: Finding, findings: tuple[Finding, ...] = ()) -> None:
        super().__init__(finding)
        self.findings = findings


class StackNotKnownError(PlaitlogError):
    """The layers at a station are not fully known, so no diameter can be worked out there."""


class FitError(PlaitlogError):
    """A regression cannot be carried out."""


class ArtifactError(FitError):
    """A stored fit does not reproduce its own objective."""


class PlanError(PlaitlogError):
    """No plan can be made of what is asked."""


class DatabaseError(PlaitlogError):
    """The database cannot be used as it is."""


class NewerDatabaseError(DatabaseError):
    """The database was written by a newer version of this program."""


class BusyDatabaseError(DatabaseError):
    """Somebody else holds the lock."""


class BackupError(DatabaseError):
    """A backup cannot be made, or a file cannot be restored; the records are as they were."""
