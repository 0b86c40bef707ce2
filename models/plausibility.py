"""Can this be? What is refused in a record, and what is taken with a finding.

Refused is what cannot be true or cannot be read; all refusals of a record come at once, so that it is
mended in one go. Taken with a finding is what a hand would hardly do, or what a slip of the pen looks like.
"""

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Final

from plaitlog.models.errors import Finding, RecordError
from plaitlog.models.plausibility_layers import layer_findings, layer_refusals
from plaitlog.models.plausibility_measured import (
    measured_findings,
    measured_refusals,
    session_findings,
    session_refusals,
)
from plaitlog.models.plausibility_values import not_in_future, not_known, positive, sized
from plaitlog.models.units import (
    DIAMETER,
    FIBRE_DENSITY,
    LENGTH,
    LINEAR_DENSITY,
    THICKNESS,
)
from plaitlog.models.whip import Cord, Foundation, RatingSession, Whip

# Outside of these spans a value is taken, and pointed out (common practice and own measure, no source).
USUAL_CORD_MM: Final = (1.0, 10.0)
USUAL_THONG_MM: Final = (300.0, 5000.0)
USUAL_HANDLE_MM: Final = (10.0, 45.0)
USUAL_BULK_G_PER_CM3: Final = (0.2, 1.3)
"""Mass of a cord over the volume of a round one of its diameter: nylon parachute cord has about 0.53."""
TEST_PLAIT: Final = "test plait"


def check_cord(cord: Cord) -> tuple[Finding, ...]:
    """Findings on a cord kind.

    Raises
    ------
    RecordError
        With every refusal: a size that is not finite, not above 0, or absurd; a blank name.
    """
    refused = list(cord_refusals(cord))
    if refused:
        raise RecordError(*refused)
    return tuple(cord_findings(cord))


def check_whip(
    whip: Whip, cords: Mapping[str, Cord] | None = None, *, today: dt.date | None = None
) -> tuple[Finding, ...]:
    """Findings on a whip with all that hangs on it.

    ``cords``: those the workshop has, by name (None: names are not looked up); ``today``: the last day
    that is not in the future (None: dates are not looked at).

    Raises
    ------
    RecordError
        With every refusal.
    """
    refused = list(whip_refusals(whip, cords, today=today))
    if refused:
        raise RecordError(*refused)
    return tuple(whip_findings(whip))


def check_rating(session: RatingSession, *, today: dt.date | None = None) -> tuple[Finding, ...]:
    """Findings on one rating session.

    Raises
    ------
    RecordError
        With every refusal: a score outside 1 to 10, a feel outside -2 to +2, a date in the future.
    """
    refused = list(session_refusals(session, today))
    if refused:
        raise RecordError(*refused)
    return tuple(session_findings(session))


def cord_refusals(cord: Cord) -> Iterator[Finding]:
    if not cord.name.strip():
        yield Finding("name-missing", "a cord has no name", "give it one", "name")
    yield from sized(cord.diameter_mm, DIAMETER, "diameter_mm")
    yield from sized(cord.pressed_mm, THICKNESS, "pressed_mm")
    yield from sized(cord.flat_width_mm, DIAMETER, "flat_width_mm")
    yield from sized(cord.linear_density_g_per_m, LINEAR_DENSITY, "linear_density_g_per_m")
    yield from sized(cord.fibre_density_g_per_cm3, FIBRE_DENSITY, "fibre_density_g_per_cm3")
    yield from positive(cord.price_per_m, "price_per_m", zero=True)


def cord_findings(cord: Cord) -> Iterator[Finding]:
    """What looks like a slip; expects a cord that is not refused."""
    low, high = USUAL_CORD_MM
    diameter = cord.diameter_mm
    if diameter is not None and not low <= diameter <= high:
        yield Finding(
            "cord-unusual",
            f"a cord of {diameter:g} mm is unusual",
            f"check number and unit: most measure {low:g} to {high:g} mm",
            "diameter_mm",
        )
    if diameter is not None and cord.pressed_mm is not None and cord.pressed_mm > diameter:
        yield Finding(
            "pressed-thicker",
            f"pressed shut it measures {cord.pressed_mm:g} mm, more than the {diameter:g} mm just touching",
            "check which is which",
            "pressed_mm",
        )
    width = cord.flat_width_mm
    if diameter is not None and width is not None and not 0.7 <= width / diameter <= 2.0:
        yield Finding(
            "width-unusual",
            f"a flat width of {width:g} mm is unusual for a cord of {diameter:g} mm",
            "lay ten strands side by side and divide by ten",
            "flat_width_mm",
        )
    if diameter is not None and cord.linear_density_g_per_m is not None:
        bulk = cord.linear_density_g_per_m / (0.7854 * diameter**2)
        fibre = 1.14 if cord.fibre_density_g_per_cm3 is None else cord.fibre_density_g_per_cm3
        low, high = (bound * fibre / 1.14 for bound in USUAL_BULK_G_PER_CM3)
        if not low <= bulk <= high:
            yield Finding(
                "density-unusual",
                f"{cord.linear_density_g_per_m:g} g/m does not go with {diameter:g} mm",
                "weigh 10 m and divide the grams by ten, and check the calipers",
                "linear_density_g_per_m",
            )


def whip_refusals(
    whip: Whip, cords: Mapping[str, Cord] | None = None, *, today: dt.date | None = None
) -> Iterator[Finding]:
    """Everything in a whip that cannot be taken."""
    if not whip.label.strip():
        yield Finding("label-missing", "the whip has no label", "give it one", "label")
    yield from not_in_future(whip.made_on, today, "made_on")
    yield from positive(whip.thong_length_mm, "thong_length_mm", LENGTH)
    yield from sized(whip.handle_length_mm, LENGTH, "handle_length_mm")
    yield from sized(whip.handle_diameter_mm, DIAMETER, "handle_diameter_mm")
    if isinstance(whip.foundation, Foundation):
        yield from sized(whip.foundation.diameter_mm, DIAMETER, "foundation, diameter_mm")
        yield from sized(whip.foundation.to_mm, LENGTH, "foundation, to_mm")
    yield from positive(whip.build_number, "build_number", zero=True)
    yield from positive(whip.hours, "hours", zero=True)
    for number, use in enumerate(whip.cord_used, start=1):
        yield from positive(use.metres, f"cord_used {number}, metres")
        if cords is not None and use.cord not in cords:
            yield not_known(use.cord, cords, "cord", f"cord_used {number}")
    for number, layer in enumerate(whip.layers, start=1):
        for finding in layer_refusals(layer, whip.point_mm):
            yield finding.at(f"layers {number}")
        for cord in layer.cords:
            if cords is not None and cord.cord not in cords:
                yield not_known(cord.cord, cords, "cord", f"layers {number}, cord")
    yield from measured_refusals(whip, today)
    for number, session in enumerate(whip.ratings, start=1):
        for finding in session_refusals(session, today):
            yield finding.at(f"ratings {number}")
        if session.compared_with == whip.label:
            yield Finding(
                "compared-with-itself",
                f"{whip.label!r} is compared with itself",
                "give the label of the other whip",
                f"ratings {number}, compared_with",
            )


def whip_findings(whip: Whip) -> Iterator[Finding]:
    """What looks like a slip, or what a hand would hardly do; expects a whip that is not refused."""
    length = whip.thong_length_mm
    low, high = USUAL_THONG_MM
    if length is not None and not low <= length <= high and whip.type != TEST_PLAIT:
        yield Finding(
            "length-unusual",
            f"a thong of {length:g} mm is unusual",
            "check number and unit",
            "thong_length_mm",
        )
    low, high = USUAL_HANDLE_MM
    if whip.handle_diameter_mm is not None and not low <= whip.handle_diameter_mm <= high:
        yield Finding(
            "handle-unusual",
            f"a handle {whip.handle_diameter_mm:g} mm thick is unusual",
            "check number and unit",
            "handle_diameter_mm",
        )
    for number, layer in enumerate(whip.layers, start=1):
        for finding in layer_findings(layer, whip.point_mm):
            yield finding.at(f"layers {number}")
    yield from measured_findings(whip)
    for number, session in enumerate(whip.ratings, start=1):
        for finding in session_findings(session, whip.made_on):
            yield finding.at(f"ratings {number}")
