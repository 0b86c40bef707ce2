"""What is meant by a name typed alone: a whip, a cord or a maker."""

from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError, NotFoundError, nearest_or
from plaitlog.service.usecases.loading import cord_keys, maker_keys, whip_keys


def kind_of(session: Session, name: str, kind: str | None = None) -> str:
    """The kind of what has this name: whip, cord or maker; ``kind`` decides where several have it.

    Raises
    ------
    NotFoundError
        With the nearest name of any kind.
    InputError
        Several kinds have it, and none is said.
    """
    known = {"whip": whip_keys(session), "cord": cord_keys(session), "maker": maker_keys(session)}
    if kind is not None:
        known = {kind: known[kind]}
    found = [one for one, names in known.items() if name in names]
    if len(found) == 1:
        return found[0]
    if found:
        raise InputError(
            Finding("name-unclear", f"{name!r} is a {' and a '.join(found)}", f"add --kind {found[0]}")
        )
    every = [known_name for names in known.values() for known_name in names]
    what = kind or "whip, cord or maker"
    remedy = nearest_or(name, every, "'plaitlog whips' and 'plaitlog cords' list them")
    raise NotFoundError(Finding("name-not-found", f"no {what} {name!r} is in the workshop", remedy))
