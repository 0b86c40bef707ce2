"""Expected weight, balance and cord use, as `show` prints them."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from plaitlog.models.whip import Whip
    from plaitlog.service.usecases.shown_units import ShownUnits
    from plaitlog.service.usecases.weighing import Expected


def weight_lines(whip: "Whip", found: "Expected", units: "ShownUnits") -> Iterator[str]:
    """The expected weight beside what is noted, the balance point, metres of cord, then what to know."""
    from plaitlog.models.units import show_mass
    from plaitlog.service.usecases.weighing import far_off

    weight = found.weight
    interval = f"{show_mass(weight.low_90_g)} to {show_mass(weight.high_90_g)}"
    yield (
        f"Expected weight {show_mass(weight.weight_g)} (90 %: {interval}), "
        f"from {found.learnt_from} other weighed whips"
    )
    for noted in whip.weights:
        if noted.after_layer is None:
            wrong = far_off(noted, found)
            yield f"  noted {show_mass(noted.weight_g)}" + (f": {wrong.remedy}" if wrong else "")
    at = units.length(found.balance_mm)
    yield f"  balances at {at} from the {whip.datum or 'handle end'}, thong laid straight, by geometry"
    for cord, metres in found.cord_m.items():
        yield f"  {cord}: {metres:.1f} m, tails and waste not counted"
    for finding in found.findings:
        yield f"  {finding.text}" + (f"; {finding.remedy}" if finding.remedy else "")
