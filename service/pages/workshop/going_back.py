"""Where to go on after something was done: a page of this server, never an address from elsewhere."""

from typing import Final
from urllib.parse import parse_qsl, unquote, urlencode, urlsplit

from sqlalchemy.orm import Session

from plaitlog.service.pages.rendering import path_of
from plaitlog.service.usecases.loading import cord_keys, maker_keys, whip_keys

OF_WHIPS: Final = frozenset({"whips", "edit", "measure", "rate", "sheets", "photos"})
OF_CORDS: Final = frozenset({"cords", "advice"})
LONGEST: Final = 2_000


def local(address: str, otherwise: str) -> str:
    """The address where it is a plain path of this server, with its query; else the other one.

    A path that a browser could read as another server's ("//name", "/\\name") is none.
    """
    plain = address.isascii() and address.isprintable() and "\\" not in address and " " not in address
    if not plain or len(address) > LONGEST or not address.startswith("/") or address.startswith("//"):
        return otherwise
    parts = urlsplit(address)
    return address if not parts.scheme and not parts.netloc else otherwise


def saying(address: str, change: int) -> str:
    """The address of a page that is to say what change was made."""
    path, _, query = address.partition("#")[0].partition("?")
    kept = [(key, value) for key, value in parse_qsl(query, keep_blank_values=True) if key != "change"]
    return f"{path}?{urlencode([*kept, ('change', str(change))])}"


def still_there(session: Session, address: str) -> str:
    """The address, or that of the list where what it shows is not in the workshop any more."""
    place, _, rest = urlsplit(address).path.lstrip("/").partition("/")
    name = unquote(rest)
    if not name:
        return address
    if place in OF_WHIPS:
        return address if name in whip_keys(session, [name]) else "/whips"
    if place in OF_CORDS:
        return address if name in cord_keys(session) else "/cords"
    if place == "makers":
        return path_of(place, name) if name in maker_keys(session) else "/makers"
    return address
