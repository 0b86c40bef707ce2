"""``plaitlog doctor``: is everything in order?"""

from dataclasses import asdict

import typer

from plaitlog.service.cli.options import AsJson, Database, Strict
from plaitlog.service.cli.output import as_json, end, result
from plaitlog.service.cli.workshop import location


def register(app: typer.Typer) -> None:
    app.command("doctor")(doctor)


def doctor(
    context: typer.Context, json: AsJson = False, strict: Strict = False, database: Database = None
) -> None:
    """Look at the database, its folder and disk, the fit and the backups; change nothing.

    Each line is ok, a note or trouble, with what to do about it. With --strict notes and trouble give 1.
    """
    from plaitlog.service.doctor.examining import examine

    found = []
    for check in examine(location(context, database)):
        found.append(check)
        if not json:
            remedy = f"; {check.remedy}" if check.remedy else ""
            result(f"{check.state:8} {check.name}: {check.text}{remedy}")
    if json:
        as_json([asdict(check) for check in found])
    end([check for check in found if check.state != "ok"], strict)
