"""Options that several commands share."""

from typing import Annotated

import typer

Database = Annotated[
    str | None,
    typer.Option(
        "--database",
        metavar="FILE|URL",
        envvar="PLAITLOG_DATABASE_URL",
        help="Where the records are: an SQLite file or a postgresql:// URL.",
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the results as JSON.")]
Strict = Annotated[
    bool, typer.Option("--strict", help="Exit with 1 where there are findings or errors of single lines.")
]
