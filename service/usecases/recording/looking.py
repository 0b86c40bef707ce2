"""A form half filled in, looked over: what it says so far, what it is good for, what the fit expects."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.plausibility import check_whip
from plaitlog.models.whip import Cord, Reading, Whip
from plaitlog.service.reports.whip_sketch import Sketch
from plaitlog.service.usecases.missing.usability import usability
from plaitlog.service.usecases.observing import is_inner
from plaitlog.service.usecases.pictures.drawing_sections import changes, sections_of
from plaitlog.service.usecases.pictures.drawing_words import drawn_layer
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.recording.checks import whip_from, words_of
from plaitlog.service.usecases.recording.dialogue import Bench
from plaitlog.service.usecases.recording.form import Filled
from plaitlog.service.usecases.recording.record import records
from plaitlog.service.usecases.reviewing import ReviewLine, place_in_table, review
from plaitlog.service.usecases.shown_units import ShownUnits


@dataclass(frozen=True, slots=True)
class Looked:
    """What can be said of a form.

    words : the whip as it would be kept, and what is not noted. ``refused``: why it cannot be true as it is.
    beside : readings beside what the fit in force expects. ``use``: what a fit can use of it, with reasons.
    """

    words: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    refused: Finding | None = None
    beside: tuple[ReviewLine, ...] = ()
    sketch: Sketch | None = None
    use: tuple[str, ...] = ()


def look_at(filled: Filled, bench: Bench, shown: ShownUnits) -> Looked:
    """Everything there is to say of a form that nobody has asked to keep yet."""
    try:
        found = records(filled.sketched, bench)
        whip, cords, findings = whip_from(found, bench)
        slips = check_whip(whip, today=bench.today)
        words = words_of(whip, found, shown)
    except InputError as error:
        return Looked(refused=error.finding)
    beside: tuple[ReviewLine, ...] = ()
    far: list[Finding] = []
    use: tuple[str, ...] = ()
    if bench.in_force is not None:
        if whip.readings:
            reviewed = review(bench.in_force, whip, cords)
            beside = tuple(sorted(reviewed.lines, key=place_in_table))
            far = [finding for finding in reviewed.findings if finding.code == "far-from-prediction"]
        if whip.layers or whip.readings:
            usable = usability(bench.in_force, whip, cords)
            use = (usable.line(), *usable.reasons(shown))
    sketch = sketched(bench.in_force, whip, cords, shown, [line.reading for line in beside if line.far])
    return Looked(tuple(words), (*findings, *slips, *far), None, beside, sketch, use)


def sketched(
    in_force: InForce | None,
    whip: Whip,
    cords: Mapping[str, Cord],
    shown: ShownUnits,
    far: Collection[Reading] = (),
) -> Sketch | None:
    """Its layers along the thong and the expected diameter, as far as known; None without a layer.

    far : readings that lie far from what is expected.
    """
    whip = placed(whip)
    if not whip.layers:
        return None
    finished = [one for one in whip.readings if not is_inner(whip, one.after_layer) and one.at_mm is not None]
    noted = [one.at_mm or 0.0 for one in whip.readings]
    noted += [place for place in changes(whip) if place < float("inf")]
    end_mm = whip.point_mm or max(noted, default=0.0)
    if end_mm <= 0.0:
        return None
    sections = () if in_force is None else sections_of(in_force, whip, cords, shown, 0.0, end_mm)
    return Sketch(
        layers=tuple(drawn_layer(layer, place, shown, end_mm) for place, layer in enumerate(whip.layers, 1)),
        sections=tuple(section for section in sections if not section.reason),
        readings=tuple((one.at_mm or 0.0, one.size_mm, one not in far) for one in finished),
        end_mm=end_mm,
        to_point=whip.point_mm is not None,
        shown=shown,
    )
