"""``plaitlog edit`` and ``remove``: change or take away what is recorded; undo brings it back."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.cli.options import AsJson, Database
from plaitlog.service.cli.output import as_json, finding_json, findings, result
from plaitlog.service.cli.workshop import engine

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from plaitlog.service.usecases.changes.editing import Edited

Name = Annotated[str, typer.Argument(help="Label of a whip, or name of a cord or maker.")]
Kind = Annotated[
    str | None, typer.Option(metavar="whip|cord|maker", help="Where a whip and a cord have one name.")
]
ReadingKey = Annotated[int | None, typer.Option("--reading", help="That reading of the whip, by its number.")]
RatingKey = Annotated[int | None, typer.Option("--rating", help="That rating of the whip, by its number.")]
StockKey = Annotated[int | None, typer.Option("--stock", help="That stock of the cord, by its number.")]
Version = Annotated[
    int | None, typer.Option(help="Refuse where this is no longer the version that is stored.")
]

KINDS: Final = ("whip", "cord", "maker")


def register(app: typer.Typer) -> None:
    app.command("edit")(edit)
    app.command("remove")(remove)


def edit(
    context: typer.Context,
    name: Name,
    changes: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[KEY=VALUE]...",
            help="Keys as in the record, values as typed or as JSON; null erases. "
            "Without any, what is recorded is listed with the numbers of readings, ratings and stock.",
        ),
    ] = None,
    kind: Kind = None,
    reading: ReadingKey = None,
    rating: RatingKey = None,
    stock: StockKey = None,
    version: Version = None,
    json: AsJson = False,
    database: Database = None,
) -> None:
    """Change what is recorded of a whip, cord or maker: plaitlog edit 2026-014 weight_g=420 notes=null."""
    from plaitlog.service.database import reading as reading_of
    from plaitlog.service.database import write
    from plaitlog.service.usecases.changes import editing

    found = engine(context, database)
    keys = {"reading": reading, "rating": rating, "stock": stock}
    with reading_of(found) as session:
        what, key = _meant(session, name, kind, keys)
        if not changes:
            _list(session, what, name, key, json)
            return
    given = _given(what, changes)
    edits: dict[str, Callable[..., Edited]] = {
        "whip": editing.edit_whip,
        "cord": editing.edit_cord,
        "maker": editing.edit_maker,
        "reading": editing.edit_reading,
        "rating": editing.edit_rating,
        "stock": editing.edit_stock,
    }
    done = write(
        found, lambda session: edits[what](session, name if key is None else key, given, version=version)
    )
    if json:
        _print_json(done)
    elif done.number is None:
        result("nothing changed: that is what is recorded already")
    else:
        from plaitlog.service.usecases.changes.history import changed_keys

        result(f"{_called(what, name, key)}, change {done.number}:")
        for line in changed_keys(done.before, done.record):
            result(f"  {line}")
        findings(done.findings)


def remove(
    context: typer.Context,
    name: Name,
    kind: Kind = None,
    reading: ReadingKey = None,
    rating: RatingKey = None,
    stock: StockKey = None,
    version: Version = None,
    json: AsJson = False,
    database: Database = None,
) -> None:
    """Remove a whip with everything noted of it, a cord or maker no whip names, or one reading or rating."""
    from plaitlog.service.database import reading as reading_of
    from plaitlog.service.database import write
    from plaitlog.service.usecases.changes import editing

    found = engine(context, database)
    keys = {"reading": reading, "rating": rating, "stock": stock}
    with reading_of(found) as session:
        what, key = _meant(session, name, kind, keys)
    removals: dict[str, Callable[..., Edited]] = {
        "whip": editing.remove_whip,
        "cord": editing.remove_cord,
        "maker": editing.remove_maker,
        "reading": editing.remove_reading,
        "rating": editing.remove_rating,
        "stock": editing.remove_stock,
    }
    done = write(
        found, lambda session: removals[what](session, name if key is None else key, version=version)
    )
    if json:
        _print_json(done)
    else:
        called = _called(what, name, key)
        result(f"removed {called}, change {done.number}; 'plaitlog undo {done.number}' brings it back")


def _meant(
    session: "Session", name: str, kind: str | None, keys: dict[str, int | None]
) -> tuple[str, int | None]:
    """Kind and key of what is to be changed; a reading, rating or stock must belong to the name."""
    from plaitlog.service.usecases.changes.named import kind_of
    from plaitlog.service.usecases.workshop import rating_by_key, reading_by_key, stock_by_key

    if kind is not None and kind not in KINDS:
        raise InputError(
            Finding("kind-unknown", f"{kind!r} is no kind", f"write {', '.join(KINDS)}", "--kind")
        )
    given = [(what, key) for what, key in keys.items() if key is not None]
    if not given:
        return kind_of(session, name, kind), None
    if len(given) > 1:
        raise InputError(Finding("several", "several numbers are given", "change one thing at a time"))
    what, key = given[0]
    if what == "stock":
        owner = stock_by_key(session, key)[1].cord
    else:
        owner = (reading_by_key if what == "reading" else rating_by_key)(session, key)[1]
    if owner != name:
        raise InputError(
            Finding("belongs-elsewhere", f"{what} {key} is of {owner!r}, not of {name!r}", "check the number")
        )
    return what, key


def _given(kind: str, changes: list[str]) -> dict[str, Any]:
    from plaitlog.service.usecases.changes.edited_records import typed_value

    given: dict[str, Any] = {}
    for change in changes:
        key, equals, text = change.partition("=")
        if not equals or not key:
            raise InputError(
                Finding("not-a-change", f"{change!r} is no change", "write it like weight_g=420")
            )
        if key in given:
            raise InputError(Finding("given-twice", "stands twice", "keep one of them", key))
        given[key] = typed_value(kind, key, text)
    return given


def _list(session: "Session", kind: str, name: str, key: int | None, json: bool) -> None:
    """What is recorded, key by key, with the numbers of what has no name."""
    from plaitlog.service.usecases.changes.recorded import recorded

    found = recorded(session, kind, name if key is None else key)
    if json:
        as_json(
            {
                "version": found.version,
                "record": found.record,
                **{
                    f"{what}s" if what != "stock" else what: [
                        {"number": x.number, "version": x.version, "record": x.record} for x in listed
                    ]
                    for what, listed in found.parts.items()
                },
            }
        )
        return
    result(f"{_called(kind, name, key)}, version {found.version}")
    _print_record(found.record, "  ")
    for what, listed in found.parts.items():
        for part in listed:
            result(f"  --{what} {part.number}")
            _print_record(part.record, "      ")


def _print_record(record: dict[str, Any], indent: str) -> None:
    from json import dumps

    for key, value in record.items():
        if key not in ("kind", "readings", "ratings"):
            shown = value if isinstance(value, str) else dumps(value, ensure_ascii=False)
            result(f"{indent}{key}={shown}")


def _called(kind: str, name: str, key: int | None) -> str:
    return f"{kind} {name}" if key is None else f"{kind} {key} of {name}"


def _print_json(done: "Edited") -> None:
    as_json(
        {
            "change": done.number,
            "version": done.version,
            "record": done.record,
            "before": done.before,
            "findings": [finding_json(finding) for finding in done.findings],
        }
    )
