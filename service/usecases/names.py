"""Names as a person types them: the cord that is meant by a part of its name."""

from collections.abc import Mapping

from plaitlog.models.errors import Finding, NotFoundError
from plaitlog.models.whip import Cord
from plaitlog.service.usecases.workshop import not_found


def cord_meant(name: str, cords: Mapping[str, Cord]) -> Cord:
    """The cord of that name, or the only one whose name holds it.

    Raises
    ------
    NotFoundError
        With the nearest name, or with all that fit.
    """
    if name in cords:
        return cords[name]
    wanted = name.casefold()
    found = [cord for cord in cords if cord.casefold() == wanted] or [
        cord for cord in cords if wanted in cord.casefold()
    ]
    if len(found) == 1:
        return cords[found[0]]
    if not found:
        raise not_found("cord", name, cords)
    raise NotFoundError(
        Finding("cord-unclear", f"{name!r} may be {' or '.join(map(repr, found))}", "write the whole name")
    )
