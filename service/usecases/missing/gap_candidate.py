"""A gap: one thing to measure, plait or look up, before and after it was weighed."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.gain import Trial
from plaitlog.service.usecases.missing.gap_targets import Target
from plaitlog.service.usecases.shown_units import ShownUnits

Array = NDArray[np.float64]
Kind = Literal["cord", "test plait", "whip", "place", "maker"]
Words = Callable[[ShownUnits], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A gap to be weighed: the readings that it would bring, or the variance that it would take away.

    about : the cord, whip or maker. concerns : the stacks that it is about. losses : of the variance of log
    diameter, one for each target (with ``trial`` None). readings : that become usable, or exact.
    facts : how many have to be looked up for it.
    """

    kind: Kind
    about: str
    what: Words
    do: Words
    concerns: Callable[[Target], bool]
    trial: Trial | None = None
    losses: Array | None = None
    readings: int = 0
    facts: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A gap weighed: ``narrower`` is the share by which 90 % intervals narrow in the mean over all stacks,
    ``there`` the same over the ``stacks`` that it is about."""

    kind: Kind
    about: str
    what: Words
    do: Words
    narrower: float
    there: float
    stacks: int
    readings: int
    facts: int

    def to_json(self, shown: ShownUnits) -> dict[str, Any]:
        return {
            "kind": self.kind,
            "about": self.about,
            "what": self.what(shown),
            "do": self.do(shown),
            "narrower_percent": round(100 * self.narrower, 4),
            "narrower_there_percent": round(100 * self.there, 4),
            "stacks_there": self.stacks,
            "readings": self.readings,
            "facts": self.facts,
        }
