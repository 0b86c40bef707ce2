"""``plaitlog predict --like LABEL --swap OLD=NEW``: a known whip in another cord, station by station."""

from typing import TYPE_CHECKING

from plaitlog.service.cli.output import as_json, end, finding_json, findings, result, table
from plaitlog.service.preferences import shown_units

if TYPE_CHECKING:
    from collections.abc import Mapping

    from plaitlog.models.whip import Cord, Whip
    from plaitlog.service.cli.predicting import Wanted
    from plaitlog.service.usecases.predicting import InForce


def predict_like(
    in_force: "InForce",
    cords: "Mapping[str, Cord]",
    whip: "Whip",
    swaps: dict[str, str],
    wanted: "Wanted",
) -> None:
    """Print that whip as it was measured, as the fit sees it, and as it comes out in the other cord.

    Then what it weighs, where it balances and what cord it takes.
    """
    from plaitlog.service.cli.weights import weight_lines
    from plaitlog.service.usecases.places import placed
    from plaitlog.service.usecases.predicting import CAUTION
    from plaitlog.service.usecases.predicting_stacks import cover_text, like_findings, like_json, like_whip

    told = like_whip(
        in_force,
        placed(whip),
        cords,
        swaps,
        maker=wanted.maker,
        condition=wanted.condition,
        interval=wanted.interval,
    )
    remarks = like_findings(told)
    if wanted.json:
        as_json({**like_json(told), "findings": [finding_json(x) for x in remarks]})
        end(remarks, wanted.strict)
        return
    shown = shown_units()
    instead = ", ".join(f"{new} instead of {old}" for old, new in told.swaps.items()) or "in its own cords"
    result(f"{told.label}, {instead}:")
    result(f"{in_force.rests_on}. {CAUTION}")
    heads = ("at", "measured", "as it was", "comes out at", "90 %", "change", "cover")
    table(
        heads,
        [
            (
                shown.length(line.at_mm),
                " / ".join(shown.diameter_number(reading.size_mm) for reading in line.measured),
                shown.diameter_number(line.as_was.diameter_mm),
                shown.diameter(line.swapped.diameter_mm),
                shown.interval(line.swapped.low_90_mm, line.swapped.high_90_mm),
                f"{100 * (line.swapped.diameter_mm / line.as_was.diameter_mm - 1):+.0f} %",
                cover_text(line.swapped),
            )
            for line in told.stations
        ],
        right=heads,
    )
    if told.weighing is not None:
        result()
        for text in weight_lines(whip if not told.swaps else None, told.weighing, shown):
            result(text)
    findings(x for x in remarks if x.code != "no-fit" and not x.code.startswith("cover-"))
    end(remarks, wanted.strict)
