"""What measuring buys, shown on a known cord: its measurements one after the other, as if it were new."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from plaitlog.models.whip import Cord
from plaitlog.service.usecases.cords.alike import unread
from plaitlog.service.usecases.cords.listed import TypicalPlait, typical_plaits
from plaitlog.service.usecases.cords.measures import lacks
from plaitlog.service.usecases.cords.worth import typical
from plaitlog.service.usecases.predicting import InForce

ORDER: Final = ("diameter_mm", "linear_density_g_per_m", "flat_width_mm", "pressed_mm")


@dataclass(frozen=True, slots=True)
class Steps:
    """The typical plait of a cord by its measurements up to each of ``ORDER``, then by its readings too."""

    cord: Cord
    measured: tuple[TypicalPlait, ...]
    learnt: TypicalPlait
    readings: int


def steps_of(in_force: InForce, known: Iterable[Cord], maker: str | None) -> Steps | None:
    """The wholly measured cord of most readings, step by step in one stack; None where there is none."""
    read = in_force.calibration.cords
    whole = [cord for cord in known if not lacks(cord) and read.get(cord.name)]
    if not whole:
        return None
    cord = max(whole, key=lambda one: read[one.name])
    (learnt,) = typical_plaits(in_force, [cord], maker)
    new = unread(in_force, cord)
    tried = [_with(new, ORDER[: count + 1]) for count in range(len(ORDER))]
    told = in_force.predict([typical(one, learnt.overlay, maker) for one in tried])
    measured = tuple(TypicalPlait(learnt.overlay, one) for one in told)
    return Steps(cord, measured, learnt, read[cord.name])


def _with(cord: Cord, keys: Iterable[str]) -> Cord:
    kept = set(keys)
    taken: Mapping[str, Any] = {key: None for key in ORDER if key not in kept}
    return replace(cord, **taken)
