"""Expected weight, balance and cord use, as `show` and `predict --like` print them."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from plaitlog.models.calibration.ratios import Expectation
    from plaitlog.models.whip import Whip
    from plaitlog.service.usecases.shown_units import ShownUnits
    from plaitlog.service.usecases.weighing import Expected


def weight_lines(whip: "Whip | None", found: "Expected", units: "ShownUnits") -> Iterator[str]:
    """The expected weight, balance point and metres of cord, beside what is noted of ``whip``."""
    from plaitlog.models.units import show_mass
    from plaitlog.service.usecases.weighing import far_off

    weight = found.weight
    learnt = f", from {found.weighed_whips} weighed whips" if found.weighed_whips else ""
    yield (
        f"Expected weight {show_mass(weight.value)} (90 %: {_masses(weight)}), thong and handle without fall "
        f"and cracker{learnt}"
    )
    for noted, what in found.noted:
        parts = noted.with_parts
        hung = "; not noted what hung on it" if parts is None else ""
        hung = f" with {', '.join(parts)}" if isinstance(parts, tuple) else hung
        wrong = far_off(noted, what)
        seen = f": {wrong.remedy}" if wrong else ""
        yield f"  noted {show_mass(noted.weight_g)}{hung}, expected {_masses(what)}{seen}"
    balance = found.balance
    if balance is not None:
        spread = f"{units.length(balance.low_90)} to {units.length(balance.high_90)}"
        line = f"  balances at {units.length(balance.value)} from the butt (90 %: {spread}), laid straight"
        if whip is not None and whip.balance is not None:
            line += f"; noted {units.length(whip.balance.at_mm)} from the {whip.balance.counted_from}"
        yield line
    used = {} if whip is None else {use.cord: use.metres for use in whip.cord_used}
    for cord, use in found.cord_use.items():
        line = f"  {cord}: {use.value:.1f} m with tails (90 %: {use.low_90:.1f} to {use.high_90:.1f} m)"
        yield line + (f"; noted {used[cord]:g} m" if cord in used else "")
    for finding in found.findings:
        yield f"  {finding.text}" + (f"; {finding.remedy}" if finding.remedy else "")


def _masses(what: "Expectation") -> str:
    from plaitlog.models.units import show_mass

    return f"{show_mass(what.low_90)} to {show_mass(what.high_90)}"
