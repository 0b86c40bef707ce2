"""Names of parameters, qualities and what else is noted, as they are said."""

from collections.abc import Sequence

from plaitlog.models.handling.definitions import BY_NAME
from plaitlog.models.whip import QUALITIES


def spoken(name: str) -> str:
    """Middle share, roll-out, build number."""
    if name in BY_NAME:
        return BY_NAME[name].title
    if name in QUALITIES:
        return name.replace("_", "-")
    return name.removesuffix("_mm").removesuffix("_g").replace("_", " ")


def listed(names: Sequence[str]) -> str:
    """Several of them: build number, length and type."""
    words = [spoken(name) for name in names]
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
