"""``plaitlog photos``: look at what photos a whip has, add some, write under one, remove one."""

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from plaitlog.models.counted import counted
from plaitlog.models.errors import Finding, InputError, RecordError
from plaitlog.service.cli.options import AsJson, Database
from plaitlog.service.cli.output import as_json, result, say, table
from plaitlog.service.cli.workshop import engine

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from plaitlog.service.usecases.photos.encoding import EncodedPhoto


def register(app: typer.Typer) -> None:
    app.command("photos")(photos)


def photos(
    context: typer.Context,
    label: Annotated[str, typer.Argument(help="The whip's label.")],
    add: Annotated[
        list[Path] | None,
        typer.Option(metavar="FILE", help="Add this picture (JPEG, PNG, WebP); may be given several times."),
    ] = None,
    caption: Annotated[
        str | None, typer.Option(metavar="TEXT", help="What to write under it; with --add or --under.")
    ] = None,
    under: Annotated[
        int | None, typer.Option(metavar="N", help="Write the caption under that photo; empty erases it.")
    ] = None,
    remove: Annotated[int | None, typer.Option(metavar="N", help="Remove that photo, by its number.")] = None,
    json: AsJson = False,
    database: Database = None,
) -> None:
    """List the photos of a whip, or add, write under or remove one; undo takes it back."""
    from plaitlog.service.database import write
    from plaitlog.service.usecases.photos.keeping import caption_photo, remove_photo

    _refuse_mixed(add, caption, under, remove)
    found = engine(context, database)
    if add:
        _add(found, label, add, caption or "", json)
    elif under is not None:
        _belongs(found, label, under)
        words = caption or ""
        number = write(found, lambda session: caption_photo(session, under, words))
        _tell(f"photo {under} of {label}", "written under", number, json)
    elif remove is not None:
        _belongs(found, label, remove)
        number = write(found, lambda session: remove_photo(session, remove))
        _tell(f"photo {remove} of {label}", "removed", number, json)
    else:
        _list(found, label, json)


def _refuse_mixed(add: list[Path] | None, caption: str | None, under: int | None, remove: int | None) -> None:
    if (under is not None) + (remove is not None) + bool(add) > 1:
        raise InputError(Finding("several", "several things are asked at once", "do one thing at a time"))
    if under is not None and caption is None:
        raise InputError(Finding("no-caption", "there is nothing to write", "add --caption TEXT", "--under"))
    if caption is not None and not add and under is None:
        remedy = "add --add FILE, or --under N for a photo that is there"
        raise InputError(Finding("no-photo", "it belongs to no photo", remedy, "--caption"))


def _add(found: "Engine", label: str, files: list[Path], caption: str, json: bool) -> None:
    from plaitlog.service.database import write
    from plaitlog.service.usecases.photos.keeping import add_photos

    pictures = _encoded(files)
    done = write(found, lambda session: add_photos(session, label, pictures, caption))
    if json:
        as_json({"change": done.number, "added": done.added, "there_already": done.there})
        return
    if done.number is not None:
        back = f"'plaitlog undo {done.number}' takes it back"
        result(f"added {counted(done.added, 'photo')} of {label}, change {done.number}; {back}")
    if done.there:
        result(f"{done.there} there already: not added again")


def _encoded(files: list[Path]) -> "list[EncodedPhoto]":
    """Every file as it will be kept; one that cannot be taken keeps all others out, and all are told."""
    from plaitlog.service.cli.reading_files import opened
    from plaitlog.service.usecases.photos.encoding import BYTES_AT_MOST, encoded

    pictures, refused = [], []
    for file in files:
        with opened(file) as (stream, _):
            content = stream.read(BYTES_AT_MOST + 1)
        try:
            pictures.append(encoded(content, str(file)))
        except InputError as error:
            refused.append(error.finding)
    if refused:
        raise RecordError(*refused)
    return pictures


def _belongs(found: "Engine", label: str, number: int) -> None:
    """Refuse the number of another whip's photo."""
    from plaitlog.service.database import reading
    from plaitlog.service.usecases.changes.named import kind_of
    from plaitlog.service.usecases.photos.keeping import photo

    with reading(found) as session:
        kind_of(session, label, "whip")
        owner = photo(session, number).whip
    if owner != label:
        text = f"photo {number} is of {owner!r}, not of {label!r}"
        raise InputError(Finding("belongs-elsewhere", text, "check the number"))


def _tell(what: str, done: str, number: int | None, json: bool) -> None:
    if json:
        as_json({"change": number})
    elif number is None:
        result("nothing changed: that is what stands there already")
    else:
        result(f"{done}: {what}, change {number}; 'plaitlog undo {number}' takes it back")


def _list(found: "Engine", label: str, json: bool) -> None:
    from plaitlog.service.database import reading
    from plaitlog.service.usecases.changes.named import kind_of
    from plaitlog.service.usecases.photos import keeping

    with reading(found) as session:
        kind_of(session, label, "whip")
        there = keeping.photos(session, label)
    if json:
        as_json([asdict(one) for one in there])
    elif not there:
        say(f"No photo of {label} yet: plaitlog photos {label} --add FILE")
    else:
        heads = ("number", "pixels", "caption")
        rows = [(one.number, f"{one.width} x {one.height}", one.caption) for one in there]
        table(heads, rows, right=heads[:2])
