"""How many strands of each of its cords a layer has at a count: as near to their shares as pairs allow.

Seats are given to parties in the same way (highest quotients, Webster 1832): one strand or pair after another
goes to the cord with the largest share / (2 n + 1), n being what it has already. So no cord gains while the
layer thins, and a layer begins with its shares exactly where they make up its count.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from plaitlog.models.whip import Cord


@dataclass(frozen=True, slots=True)
class CordShare:
    """A cord of a layer and its share of the strands, in any measure, above 0."""

    cord: Cord
    share: float = 1.0


def split(count: int, shares: Sequence[float], step: int) -> tuple[int, ...]:
    """``count`` strands by cord in the order of the shares, in steps of one strand or of a pair.

    A layer of one cord has all of them. Where shares are equal the first cord is served first.
    """
    found = [0] * len(shares)
    for _ in range(count // step):
        quotients = [share / (2 * n + 1) for share, n in zip(shares, found, strict=True)]
        found[quotients.index(max(quotients))] += 1
    return tuple(step * n for n in found)
