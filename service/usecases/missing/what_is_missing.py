"""What a whip's record can be used for, and what one more fact would buy: as ``show`` tells it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from plaitlog.models.whip import Cord, Whip
from plaitlog.service.usecases.missing.fact_worth import what_facts_buy
from plaitlog.service.usecases.missing.facts import Fact
from plaitlog.service.usecases.missing.lacking import READINGS, lacking
from plaitlog.service.usecases.missing.usability import Usability, listed, usability
from plaitlog.service.usecases.missing.worth import Worth
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits

SHOWN: Final = 5


@dataclass(frozen=True, slots=True)
class WhatIsMissing:
    """``worth``: the most first; ``rest``: what is not noted either, and would change nothing seen."""

    usable: Usability
    worth: tuple[Worth, ...]
    rest: tuple[Fact, ...]

    def lines(self, shown: ShownUnits) -> Iterator[str]:
        yield self.usable.line()
        for reason in self.usable.reasons(shown):
            yield f"  {reason}"
        if self.worth:
            yield "What one more fact would buy:"
            for worth in self.worth[:SHOWN]:
                yield f"  {worth.words(shown)}"
        if len(self.worth) > SHOWN:
            yield f"  and {len(self.worth) - SHOWN} more that buy less (--json)"
        if self.rest:
            yield self.rest_line(shown)

    def rest_line(self, shown: ShownUnits) -> str:
        """What is not noted either, and would change nothing seen."""
        either = " either" if self.worth else ""
        return f"Not noted{either}: {listed([fact.words(shown) for fact in self.rest])}"

    def to_json(self, shown: ShownUnits) -> dict[str, Any]:
        return {
            "usable": self.usable.to_json(shown),
            "would_buy": [worth.to_json(shown) for worth in self.worth],
            "not_noted_either": [fact.key for fact in self.rest],
        }


def what_is_missing(in_force: InForce, whip: Whip, cords: Mapping[str, Cord]) -> WhatIsMissing:
    """Both, for one whip; ``cords`` are all that its layers may name."""
    usable = usability(in_force, whip, cords)
    worth = what_facts_buy(in_force, whip, cords, usable)
    told = {fact.key for each in worth for fact in each.facts}
    if any(key.startswith("reading:") for key in told):
        told.add(READINGS.key)
    return WhatIsMissing(usable, worth, tuple(fact for fact in lacking(whip) if fact.key not in told))
