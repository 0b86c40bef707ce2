"""``plaitlog serve``: the server on this computer, for programs and for the browser."""

import contextlib
import ipaddress
import os
import socket
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.cli.options import Database
from plaitlog.service.cli.output import say
from plaitlog.service.cli.workshop import engine, location

if TYPE_CHECKING:
    from sqlalchemy import Engine

APPLICATION = "plaitlog.service.app:create_app"
"""By name: the command line knows nothing of the web."""
OPEN_TO_ALL = (
    "There are no accounts: whoever reaches this computer over the network may read, change and remove "
    "every record. Use this on a network of your own only."
)


def register(app: typer.Typer) -> None:
    app.command("serve")(serve)


def serve(
    context: typer.Context,
    host: Annotated[str, typer.Option(help="The address to listen on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65_535, help="The port; 0 takes a free one.")] = 8765,
    allow_lan: Annotated[
        bool, typer.Option("--allow-lan", help="Let other computers in; there are no accounts.")
    ] = False,
    show: Annotated[bool, typer.Option("--open", help="Also open the workbench in your browser.")] = False,
    database: Database = None,
) -> None:
    """Serve the workbench and the JSON API to this computer until interrupted (Ctrl-C)."""
    if not (allow_lan or is_loopback(host)):
        raise InputError(
            Finding(
                "host-not-loopback",
                f"{host!r} is reached from other computers, and there are no accounts",
                "leave --host out, or add --allow-lan if everybody there may change everything",
                "--host",
            )
        )
    records = engine(context, database)  # created or migrated, or refused, before anything listens
    listening = listen_on(host, port)
    where, taken = listening.getsockname()[:2]
    shown = f"[{where}]" if ":" in where else where
    say(f"Serving on http://{shown}:{taken} (API: /api/v1); open it in a browser. Ctrl-C ends it.")
    say(f"Records: {_place(records)}")
    if allow_lan:
        say(OPEN_TO_ALL)
    # The server makes its own settings, so that it starts in the same way without this command.
    os.environ["PLAITLOG_DATABASE_URL"] = location(context, database)
    os.environ["PLAITLOG_ALLOW_LAN"] = str(allow_lan)
    records.dispose()
    import uvicorn

    if show:
        import webbrowser

        webbrowser.open(f"http://{shown}:{taken}/")  # answered as soon as the server takes connections up
    settings = uvicorn.Config(
        APPLICATION, factory=True, log_level="warning", server_header=False, proxy_headers=False
    )
    with contextlib.suppress(KeyboardInterrupt):
        uvicorn.Server(settings).run(sockets=[listening])


def is_loopback(host: str) -> bool:
    """Whether an address is reached from this computer alone; another name than localhost never counts."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def listen_on(host: str, port: int) -> socket.socket:
    """A socket that takes connections up; InputError where the address cannot be had."""
    try:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        made = socket.create_server((host, port), family=family)
        # Taken up anew the socket knows that it speaks TCP. Else answers of several packets would wait 40 ms
        # for each other: only where the protocol is known does asyncio switch that waiting off.
        return socket.socket(fileno=made.detach())
    except (OSError, UnicodeError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(
            Finding(
                "cannot-listen",
                f"cannot listen on {host} port {port}: {reason}",
                "choose another --port, or end the program that has it",
                "--port",
            )
        ) from error


def _place(records: "Engine") -> str:
    if records.dialect.name == "sqlite":
        return str(Path(str(records.url.database)).absolute())
    return records.url.render_as_string(hide_password=True)
