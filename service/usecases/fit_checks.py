"""What is worked out beside a fit and takes a while: drift, gaps, test plaits; as plain data for a page."""

from collections.abc import Callable, Mapping
from typing import Any, Final

from sqlalchemy.orm import Session

from plaitlog.service.usecases.drift import Checked, drift
from plaitlog.service.usecases.gathering import gather
from plaitlog.service.usecases.loading import load_cords
from plaitlog.service.usecases.missing.gap_candidate import Gap
from plaitlog.service.usecases.missing.gaps import HOW, gaps
from plaitlog.service.usecases.observing import fingerprint_of
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.reporting_fit import cords_in_fit, plaits_worth_making
from plaitlog.service.usecases.shown_units import ShownUnits

MOST_GAPS: Final = 25


def drift_content(session: Session, shown: ShownUnits) -> dict[str, Any]:
    """Whether the latest whips are off in one direction; NotFoundError where no fit is stored."""
    found = drift(session)
    checks = [_checked(one, shown) for one in (found.since, found.latest) if one.whips]
    return {"fit": found.fit, "checks": checks, "findings": [str(one) for one in found.findings]}


def _checked(checked: Checked, shown: ShownUnits) -> dict[str, Any]:
    shift = checked.shift
    return {
        "words": checked.sentence(shown),
        "drifts": checked.drifts,
        "whips": []
        if shift is None
        else [
            {
                "whip": one.whip,
                "readings": one.readings,
                "off": f"{100 * one.off_log:+.1f} %".replace("-", "−"),
            }
            for one in shift.whips
        ],
    }


def gaps_content(session: Session, shown: ShownUnits) -> dict[str, Any]:
    """What is missing in the workshop, most worth first."""
    found = gaps(session)
    return {
        "stacks": found.stacks,
        "words": found.sentences(shown),
        "unusable": found.unusable_words,
        "how": HOW,
        "gaps": [_gap(gap, shown) for gap in found.gaps[:MOST_GAPS]],
        "of": len(found.gaps),
        "findings": [str(one) for one in found.findings],
    }


def _gap(gap: Gap, shown: ShownUnits) -> dict[str, Any]:
    return {
        "kind": gap.kind,
        "about": gap.about,
        "what": gap.what(shown),
        "do": gap.do(shown),
        "narrower": f"{100 * gap.narrower:.2g} %",
        "there": f"{100 * gap.there:.2g} %",
        "stacks": gap.stacks,
    }


def plaits_content(session: Session, shown: ShownUnits) -> dict[str, Any]:
    """The short test plaits that teach most, by the fit in force."""
    in_force = fit_in_force(session)
    cords = sorted(load_cords(session).values(), key=lambda cord: cord.name)
    found = cords_in_fit(in_force, gather(session).readings, cords)
    plaits = plaits_worth_making(in_force, found, {cord.name: cord for cord in cords}, shown)
    return {
        "rests_on": in_force.rests_on,
        "plaits": [{"cord": str(plait.data["cord"]), "words": plait.words} for plait in plaits],
    }


CHECKS: Final[Mapping[str, Callable[[Session, ShownUnits], dict[str, Any]]]] = {
    "drift": drift_content,
    "gaps": gaps_content,
    "test-plaits": plaits_content,
}


def state_asked(session: Session, what: str, shown: ShownUnits) -> dict[str, Any]:
    """What one answer holds for: fit, state of the records, units; another is needed when this differs."""
    return {
        "what": what,
        "fit": fit_in_force(session).number,
        "records": fingerprint_of(session),
        "lengths": shown.lengths,
        "diameters": shown.diameters,
    }
