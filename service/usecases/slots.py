"""Layer slots of a stack that is stated by itself, without the whip whose listed layers would number them."""

from collections.abc import Sequence
from typing import Final

from plaitlog.models.stack import StackRole

SLOTS: Final = {"core": 1, "belly": 2, "overlay": 4}
LAST: Final = 4


def slots_of(roles: Sequence[StackRole]) -> list[int]:
    """Core 1, first belly 2, second belly 3, overlay 4; filler, bolster, binding that of the layer around.

    Stacks of one whip get the same slots for the same layers, whatever else lies between them.
    """
    slots: list[int] = []
    bellies = 0
    for role in roles:
        bellies += role == "belly"
        slots.append(min(SLOTS.get(role, LAST) + (bellies - 1 if role == "belly" else 0), LAST))
    for place in range(len(roles) - 2, -1, -1):
        if roles[place] not in SLOTS:
            slots[place] = slots[place + 1]
    return slots
