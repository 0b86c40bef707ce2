"""What one short test plait of a cord would bring, before it is plaited."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from plaitlog.models.calibration.gain import variance_losses
from plaitlog.models.whip import Cord
from plaitlog.service.reports.shown import Shown
from plaitlog.service.usecases.cord_worth import typical
from plaitlog.service.usecases.missing.gap_cords import READ_AT_MM, STRANDS, plait_to_try, rod_mm
from plaitlog.service.usecases.predicting import InForce

MOST_TOLD: Final = 3
VISIBLE: Final = 0.05
"""Narrowing of an interval below a twentieth is not worth an hour of work (own judgement)."""


def plaits_worth_making(
    in_force: InForce, cords: Sequence[tuple[Cord, int]], maker: str | None, shown: Shown
) -> tuple[str, ...]:
    """In words, the three test plaits that narrow most the interval of the typical plait of their cord.

    cords : each with the strand count of its typical plait. What a reading would teach is worked out from the
    fit, without fitting again.
    """
    if not cords:
        return ()
    targets = [typical(cord, overlay, maker) for cord, overlay in cords]
    told = in_force.predict(targets)
    trials = [plait_to_try(cord, maker) for cord, _ in cords]
    losses = np.diag(variance_losses(in_force.calibration, targets, trials))
    now = np.array([one.sd_log for one in told])
    after = np.sqrt(np.maximum(now**2 - losses, 0.0))
    order = np.argsort(after / now, kind="stable")[:MOST_TOLD]
    found = []
    for k in order.tolist():
        if after[k] / now[k] > 1 - VISIBLE:
            continue
        cord, overlay = cords[k]
        half = (told[k].high_90_mm - told[k].low_90_mm) / 2
        then = half * float(after[k] / now[k])
        found.append(
            f"{STRANDS} strands of {cord.name} over a rod of {shown.diameter(rod_mm(cord))}, measured at "
            f"{len(READ_AT_MM)} places, would narrow the 90 % interval of {overlay} strands of it from "
            f"± {shown.diameter(half)} to about ± {shown.diameter(then)}."
        )
    return tuple(found)
