"""The backups of a database as a list: what each holds, and whether it is still sound."""

from dataclasses import dataclass

from plaitlog.models.errors import BackupError
from plaitlog.service.backups.checking import counted, sound_revision
from plaitlog.service.backups.files import Backup, BackupPlace, backups_in


@dataclass(frozen=True, slots=True)
class BackupInList:
    """One backup, read through; ``damage`` says what is wrong with it, and then nothing is counted."""

    backup: Backup
    whips: int | None
    readings: int | None
    damage: str | None = None


def looked_through(backup: Backup) -> BackupInList:
    try:
        sound_revision(backup.file)
    except BackupError as error:
        return BackupInList(backup, None, None, error.finding.text)
    return BackupInList(backup, *counted(backup.file))


def list_backups(place: BackupPlace) -> list[BackupInList]:
    """Every backup in the place, the newest first."""
    return [looked_through(backup) for backup in backups_in(place)]
