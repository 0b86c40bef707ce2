"""Plans kept with whips go with the names of cords."""

from dataclasses import replace

from sqlalchemy import select

from plaitlog.models.tables import WhipRow
from plaitlog.service.usecases.changes.journal import Journal
from plaitlog.service.usecases.kept_plans import with_cord_renamed
from plaitlog.service.usecases.loading import cord_keys, load_whips, maker_keys
from plaitlog.service.usecases.storing import replace_whip


def rename_in_plans(journal: Journal, before: str, after: str) -> None:
    """Write the new name of a cord into every kept plan that names it."""
    session = journal.session
    kept = session.execute(select(WhipRow.id, WhipRow.plan).where(WhipRow.plan.is_not(None)))
    renamed = {key: with_cord_renamed(plan, before, after) for key, plan in kept if plan}
    changed = [key for key, plan in renamed.items() if plan != session.get_one(WhipRow, key).plan]
    cords, makers = cord_keys(session), maker_keys(session)
    for key, whip in load_whips(session, changed).items():
        replace_whip(journal, key, whip, replace(whip, plan=renamed[key]), makers, cords)
