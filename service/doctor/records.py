"""What the doctor says about the records themselves: the fit in force, suspects, backups."""

import datetime as dt
import time
from pathlib import Path
from typing import Final

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from plaitlog.models.tables import HistoryRow
from plaitlog.service.backups.files import BackupPlace, backups_in, unfinished_in
from plaitlog.service.backups.listing import looked_through
from plaitlog.service.doctor.check import Check

SHOWN: Final = 3
LATE: Final = dt.timedelta(days=7)
"""Changes that are not in a backup for so long are worth a word."""
AN_HOUR_S: Final = 3600.0
"""A younger unfinished file may still be in somebody's hands."""


def fit(session: Session) -> list[Check]:
    """The fit that predicts, and the readings that do not agree with it."""
    from plaitlog.service.usecases.fitting import suspect_findings
    from plaitlog.service.usecases.predicting import fit_in_force

    in_force = fit_in_force(session)
    if in_force.number is None:
        remedy = "plaitlog fit, once readings are recorded"
        return [Check("fit", "note", "no fit is stored; predictions rest on geometry alone", remedy)]
    name = f"fit {in_force.number}"
    if in_force.findings:
        lines = [Check("fit", "note", f"{name} is stale: the records changed since", "plaitlog fit")]
    else:
        lines = [Check("fit", "ok", f"{name} rests on the records as they are")]
    suspects = suspect_findings(in_force.calibration)
    if not suspects:
        return [*lines, Check("suspects", "ok", "no reading disagrees with the fit")]
    shown = "; ".join(f"{one.where}: {one.text}" for one in suspects[:SHOWN])
    more = f"; and {len(suspects) - SHOWN} more" if len(suspects) > SHOWN else ""
    return [*lines, Check("suspects", "note", shown + more, "look at these whips again")]


def latest_change(session: Session) -> dt.datetime | None:
    return session.scalar(select(func.max(HistoryRow.created_at)))


def newest_backup(place: BackupPlace, changed_at: dt.datetime | None, now: dt.datetime) -> Check:
    """The newest backup, read through, and whether changes have waited long for one."""
    found = backups_in(place)
    if not found:
        if changed_at is None:
            return Check("backups", "ok", "none, and no record yet")
        return Check("backups", "note", f"none in {place.folder}", "plaitlog backup makes one")
    newest = looked_through(found[0])
    text = f"{len(found)}, the newest made {_age(now - found[0].made_at)}: {found[0].file}"
    if newest.damage is not None:
        return Check("backups", "trouble", newest.damage, "plaitlog backup makes a new one; check the disk")
    if changed_at is not None and changed_at > found[0].made_at and now - found[0].made_at > LATE:
        return Check("backups", "note", f"{text}; records changed since", "plaitlog backup makes a new one")
    return Check("backups", "ok", text)


def _age(age: dt.timedelta) -> str:
    hours = age.total_seconds() / 3600
    if hours < 1:
        return "this hour"
    return f"{hours:.0f} h ago" if hours < 48 else f"{age.days} days ago"


def leftovers(folder: Path) -> Check:
    """Files that processes which were killed have left unfinished."""
    old = [path for path in unfinished_in(folder) if time.time() - path.stat().st_mtime > AN_HOUR_S]
    if not old:
        return Check("leftovers", "ok", "no unfinished files")
    names = ", ".join(path.name for path in old[:SHOWN]) + (" ..." if len(old) > SHOWN else "")
    return Check("leftovers", "note", f"{len(old)} unfinished in {folder}: {names}", "delete them")
