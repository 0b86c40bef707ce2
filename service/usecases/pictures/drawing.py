"""Drawing of one whip: its layers along the thong as the fit has them, and what was measured on it."""

from collections.abc import Mapping

from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, StackNotKnownError
from plaitlog.models.whip import Cord, Foundation, Whip
from plaitlog.service.reports.drawn_whip import DrawnReading, Section
from plaitlog.service.reports.whip_drawing import WhipDrawing
from plaitlog.service.usecases.observing import is_inner
from plaitlog.service.usecases.pictures.drawing_sections import (
    changes,
    foundation_end,
    handle_end,
    sections_of,
)
from plaitlog.service.usecases.pictures.drawing_words import about, datum_of, drawn_layer, lengths, remarks
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.predicting import CAUTION, InForce, fit_in_force
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import cords_by_name
from plaitlog.service.usecases.workshop import whip as whip_by_label


def whip_drawing(session: Session, label: str, *, shown: ShownUnits | None = None) -> WhipDrawing:
    """The drawing of a recorded whip, from the fit in force.

    Raises
    ------
    NotFoundError
        Where there is no whip of that label.
    StackNotKnownError
        Where no stack is known anywhere on it, with what is missing.
    """
    found = whip_by_label(session, label)
    return drawn(fit_in_force(session), found, cords_by_name(session), shown or ShownUnits())


def drawn(
    in_force: InForce,
    whip: Whip,
    cords: Mapping[str, Cord],
    shown: ShownUnits,
    *,
    without_stack: bool = False,
) -> WhipDrawing:
    """The drawing of a whip under a calibration; the thong's stations in the whip's own datum.

    without_stack : draw it too where no stack is known anywhere, of its lengths and readings alone.
    """
    whip = placed(whip)
    start_mm, end_mm = _ends(whip)
    sections = sections_of(in_force, whip, cords, shown, max(start_mm, 0.0), end_mm)
    if not without_stack and all(section.reason for section in sections):
        raise _nothing_to_draw(whip, sections)
    foundation = whip.foundation if isinstance(whip.foundation, Foundation) else None
    return WhipDrawing(
        label=whip.label,
        about=about(whip),
        lengths=lengths(whip, shown),
        datum=datum_of(whip),
        start_mm=start_mm,
        end_mm=end_mm,
        point_mm=whip.point_mm,
        layers=tuple(drawn_layer(layer, place, shown, end_mm) for place, layer in enumerate(whip.layers, 1)),
        sections=sections,
        readings=tuple(
            DrawnReading(
                at_mm=reading.at_mm,
                diameter_mm=reading.size_mm,
                after_layer=reading.after_layer if is_inner(whip, reading.after_layer) else None,
                doubtful=reading.doubtful,
            )
            for reading in sorted(whip.readings, key=lambda reading: reading.at_mm or 0.0)
            if reading.at_mm is not None
        ),
        shown=shown,
        rests_on=in_force.rests_on,
        caution=CAUTION,
        handle_to_mm=handle_end(whip),
        handle_diameter_mm=whip.handle_diameter_mm,
        foundation_mm=foundation.diameter_mm if foundation else 0.0,
        foundation_to_mm=foundation_end(whip),
        remarks=tuple(remarks(whip, shown, in_force)),
    )


def _ends(whip: Whip) -> tuple[float, float]:
    """From where to where it is drawn: to the point, else to the last place that is noted."""
    start_mm = 0.0 if whip.datum == "butt" else -(whip.handle_length_mm or 0.0)
    if whip.point_mm is not None:
        return start_mm, whip.point_mm
    noted = [reading.at_mm for reading in whip.readings if reading.at_mm is not None]
    noted += [place for place in changes(whip) if place < float("inf")]
    last = max(noted, default=0.0)
    if last <= 0.0:
        raise StackNotKnownError(
            Finding(
                "nothing-to-draw",
                f"neither the thong length of {whip.label} nor any place on it is noted",
                "note either; 'plaitlog show' says what else is missing",
            )
        )
    return start_mm, last


def _nothing_to_draw(whip: Whip, sections: tuple[Section, ...]) -> StackNotKnownError:
    reasons = list(dict.fromkeys(section.reason for section in sections))
    return StackNotKnownError(
        Finding(
            "nothing-to-draw",
            f"no stack of {whip.label} is known anywhere: {'; '.join(reasons)}",
            "note the layers to their ends; 'plaitlog show' says what else is missing",
        )
    )
