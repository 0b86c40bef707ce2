"""What every request passes before it is looked at, and every answer before it leaves.

The server listens on this computer alone and knows no accounts, so the browser of its user is the way in
for strangers: a page from elsewhere may send requests here (checked by Origin and Sec-Fetch-Site) or have
its own name point here (DNS rebinding, checked by Host).
"""

import ipaddress
import logging
import socket
from collections.abc import Callable
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from plaitlog.models.errors import Finding

LOOPBACK_NAMES: Final = frozenset({"localhost", "127.0.0.1", "::1"})
READING_METHODS: Final = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})
HEADERS: Final = {
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
}
"""Set on every answer, unless the answer has the header already."""

Refuse = Callable[[Scope, int, Finding], ASGIApp]
"""(request, status, what is wrong) -> the answer."""

log = logging.getLogger("plaitlog.server")


class Guard:
    """ASGI middleware: refuses foreign hosts and origins, sets security headers, hides what went wrong.

    ``allow_lan``: also take requests by the computer's own name and by any address that is a number;
    a number cannot be made to point here by somebody else's name server. ``refuse`` makes the answer that
    says no: a program is told otherwise than a person.
    """

    def __init__(self, app: ASGIApp, *, refuse: Refuse, allow_lan: bool = False) -> None:
        self.app = app
        self.refuse = refuse
        self.allow_lan = allow_lan

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        started = False

        async def send_guarded(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        refusal = self._refusal(scope["method"], Headers(scope=scope))
        if refusal is not None:
            await self.refuse(scope, 403, refusal)(scope, receive, send_guarded)
            return
        try:
            await self.app(scope, receive, send_guarded)
        except Exception:
            log.exception("%s %s failed", scope["method"], scope["path"])
            if started:
                raise
            await self.refuse(scope, 500, UNEXPECTED)(scope, receive, send_guarded)

    def _refusal(self, method: str, headers: Headers) -> Finding | None:
        hosts = headers.getlist("host")
        if len(hosts) != 1 or not self._is_own(host_name(hosts[0])):
            return Finding(
                "foreign-host",
                f"this server does not go by the name {', '.join(hosts)[:200]!r}",
                "use the address that was printed when it started",
                "Host",
            )
        if method in READING_METHODS:
            return None
        origin = headers.get("origin")
        if origin is not None and not _is_same(origin, hosts[0]):
            return _foreign("Origin", origin)
        site = headers.get("sec-fetch-site")
        if site is not None and site not in {"same-origin", "none"}:
            return _foreign("Sec-Fetch-Site", site)
        return None

    def _is_own(self, name: str) -> bool:
        if name in LOOPBACK_NAMES:
            return True
        return self.allow_lan and (is_address(name) or name in _names_of_this_computer())


UNEXPECTED: Final = Finding(
    "unexpected",
    "something went wrong inside the program; nothing was written",
    "try again; if it stays, report it with the lines that the server printed",
)


def host_name(host: str) -> str:
    """The name in a Host header, without port and brackets, in lower case; empty where it is none."""
    try:
        return (urlsplit(f"//{host}").hostname or "") if not set(host) & set("/@?# ") else ""
    except ValueError:
        return ""


def is_address(name: str) -> bool:
    """Whether a host name is an address in numbers."""
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _names_of_this_computer() -> set[str]:
    name = socket.gethostname().lower()
    return {name, f"{name}.local"}


def _is_same(origin: str, host: str) -> bool:
    scheme, _, rest = origin.partition("://")
    return scheme in {"http", "https"} and rest.lower() == host.lower()


def _foreign(header: str, value: str) -> Finding:
    return Finding(
        "foreign-origin",
        f"the request comes from another place ({header}: {value[:200]})",
        "use the program's own pages, or send the request without a browser",
        header,
    )
