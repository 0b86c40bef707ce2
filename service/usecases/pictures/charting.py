"""Chart of one cord: how thick a plait of it comes out, by strand count and by the body under it."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.prediction import Prediction, Query
from plaitlog.models.calibration.remarks import HIGH_COVER, LOW_COVER
from plaitlog.models.errors import Finding, InputError, StackNotKnownError
from plaitlog.models.geometry import GeometryConstants, cord_diameter_mm
from plaitlog.models.stack import PLAITED, Stack, StackLayer, StrandGroup
from plaitlog.models.tables import CordRow, LayerCordRow, LayerRow, WhipRow
from plaitlog.models.whip import Cord, Whip, exactly, pattern_sum
from plaitlog.service.reports.cord_chart import ChartCurve, ChartPoint, ChartReading, CordChart, Mark
from plaitlog.service.usecases.loading import in_parts, load_whips
from plaitlog.service.usecases.names import cord_meant
from plaitlog.service.usecases.observing import observation
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.predicting import CAUTION, InForce, fit_in_force
from plaitlog.service.usecases.predicting_stacks import COUNTS
from plaitlog.service.usecases.recording.proposals import TEST_PLAIT
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.slots import slots_of
from plaitlog.service.usecases.workshop import cords_by_name

BODIES: Final = 5
"""Curves where no body is asked for: over nothing, and over one to four of the cord's own diameters."""
DRAWN_COUNTS: Final = 28
"""Most strands of the usual curves."""
DRAWN_COVER: Final = (0.55, 1.25)
"""Only counts whose cover lies here are drawn: others are no plait that a hand would make."""
MOST_READINGS: Final = 400
"""Readings drawn at most; of more, evenly chosen ones."""
Seen = tuple[Observation, Mark]


def cord_chart(
    session: Session,
    name: str,
    *,
    over_mm: Sequence[float] = (),
    maker: str | None = None,
    condition: str | None = None,
    pattern: str | None = None,
    shown: ShownUnits | None = None,
    most_whips: int | None = None,
    in_force: InForce | None = None,
) -> CordChart:
    """The chart of a cord, named whole or in part, from the fit in force, with the readings behind it.

    ``over_mm``: the bodies to plait over, 0 for nothing; usual ones where none is given. With a ``pattern``
    every count is plaited with its mean float. ``most_whips``: readings of so many whips at most, evenly
    chosen, where reading all of them would take too long. ``in_force``: the fit in force, if it is at hand.

    Raises
    ------
    NotFoundError
        Where no cord, or more than one, is meant.
    InputError
        Where the pattern is none.
    """
    if pattern is not None and pattern_sum(pattern) is None:
        raise InputError(
            Finding("pattern-unreadable", f"{pattern!r} is no pattern", "write it like u2o2 or u3o3")
        )
    cords = cords_by_name(session)
    cord = cord_meant(name, cords)
    if in_force is None:
        in_force = fit_in_force(session)
    bodies = tuple(sorted(set(over_mm))) or usual_bodies(cord, shown or ShownUnits())
    curves, findings = _curves(in_force, cord, bodies, maker, condition, pattern, every_count=bool(over_mm))
    seen = list(_readings_on(session, cord, cords, most_whips))
    return CordChart(
        cord=cord.name,
        curves=curves,
        readings=_placed_readings(in_force, _evenly(seen)),
        readings_in_all=len(seen),
        shown=shown or ShownUnits(),
        rests_on=in_force.rests_on,
        caution=CAUTION,
        asked=_asked(maker, condition, pattern),
        findings=findings,
    )


def count_queries(cord: Cord, over_mm: float, counts: Sequence[int], maker: str | None) -> list[Query]:
    """A plait of each count of a cord over one body."""
    return [Query(stack=plait_over(cord, strands, over_mm), maker=maker) for strands in counts]


def chart_of_counts(
    in_force: InForce,
    cord: Cord,
    over_mm: float,
    told: Mapping[int, Prediction],
    shown: ShownUnits,
) -> CordChart:
    """The chart of a cord that need not be in the workshop: these counts over one body, without readings."""
    points = tuple(_point(strands, one) for strands, one in told.items())
    return CordChart(
        cord=cord.name,
        curves=(ChartCurve(over_mm, points),),
        readings=(),
        shown=shown,
        rests_on=in_force.rests_on,
        caution=CAUTION,
    )


def usual_bodies(cord: Cord, shown: ShownUnits) -> tuple[float, ...]:
    """Inner diameters in mm worth a curve: nothing, then multiples of about the cord's own diameter.

    They are whole mm, or sixteenths of an inch where diameters are shown in inches.
    """
    unit = 25.4 / 16 if shown.diameters == "in" else 1.0
    step = max(1, round(cord_diameter_mm(cord, GeometryConstants()) / unit))
    return tuple(unit * step * k for k in range(BODIES))


def plait_over(cord: Cord, strands: int, over_mm: float, pattern: str | None = None) -> Stack:
    """An overlay of ``strands`` of the cord over a body of ``over_mm`` (0: over nothing)."""
    (slot,) = slots_of(["overlay"])
    group = StrandGroup(cord, exactly(strands))
    return Stack((StackLayer(role="overlay", groups=(group,), pattern=pattern, slot=slot),), over_mm)


def _asked(maker: str | None, condition: str | None, pattern: str | None) -> str:
    words = [
        f"by {maker}" if maker else "",
        condition or "",
        f"plaited {pattern}" if pattern else "",
    ]
    said = ", ".join(filter(None, words))
    return f"{', whoever plaits it' if maker is None else ''}{f': {said}' if said else ''}"


def _curves(
    in_force: InForce,
    cord: Cord,
    bodies: Sequence[float],
    maker: str | None,
    condition: str | None,
    pattern: str | None,
    *,
    every_count: bool,
) -> tuple[tuple[ChartCurve, ...], tuple[Finding, ...]]:
    counts = [strands for strands in COUNTS if every_count or strands <= DRAWN_COUNTS]
    asked = [(over, strands) for over in bodies for strands in counts]
    queries = [
        Query(stack=plait_over(cord, strands, over, pattern), maker=maker, condition=condition)
        for over, strands in asked
    ]
    told = dict(zip(asked, in_force.predict(queries), strict=True))
    curves = []
    findings: dict[tuple[str, str], Finding] = {}
    for over in bodies:
        points = [_point(strands, told[over, strands]) for strands in counts]
        drawn = [point for point in points if _is_drawn(over, point)] or points[:1]
        curves.append(ChartCurve(over, tuple(drawn)))
        for point in drawn:
            for finding in told[over, point.strands].findings:
                if finding.code not in {"cover-low", "cover-high"}:
                    findings.setdefault((finding.code, finding.text), finding)
    return tuple(curves), tuple(findings.values())


def _point(strands: int, told: Prediction) -> ChartPoint:
    cover = told.cover
    return ChartPoint(
        strands=strands,
        diameter_mm=told.diameter_mm,
        low_90_mm=told.low_90_mm,
        high_90_mm=told.high_90_mm,
        cover=cover,
        lies_well=cover is None or LOW_COVER <= cover <= HIGH_COVER,
    )


def _is_drawn(over_mm: float, point: ChartPoint) -> bool:
    low, high = DRAWN_COVER
    if over_mm == 0:
        low = 0.0  # four strands over nothing are the point of a whip, however loosely they cover
    return point.cover is None or low <= point.cover <= high


def _readings_on(
    session: Session, cord: Cord, cords: Mapping[str, Cord], most_whips: int | None
) -> Iterator[Seen]:
    """Every reading whose outermost layer is a plait of this cord alone."""
    keys: Sequence[int] = session.scalars(
        select(WhipRow.id)
        .join(LayerRow, LayerRow.whip_id == WhipRow.id)
        .join(LayerCordRow, LayerCordRow.layer_id == LayerRow.id)
        .join(CordRow, CordRow.id == LayerCordRow.cord_id)
        .where(CordRow.name == cord.name, or_(WhipRow.status.is_(None), WhipRow.status != "planned"))
        .order_by(WhipRow.label)
        .distinct()
    ).all()
    if most_whips is not None and len(keys) > most_whips:
        keys = [keys[k * len(keys) // most_whips] for k in range(most_whips)]
    for part in in_parts(keys):
        for whip in load_whips(session, part).values():
            yield from _of_whip(placed(whip), cord, cords)


def _of_whip(whip: Whip, cord: Cord, cords: Mapping[str, Cord]) -> Iterator[Seen]:
    for reading in whip.readings:
        try:
            seen = observation(whip, reading, cords)
        except StackNotKnownError:
            continue
        if seen.stack.layers and _is_plait_of(seen.stack.layers[-1], cord):
            plait = whip.type == TEST_PLAIT
            yield seen, "doubtful" if seen.doubtful else "test plait" if plait else "reading"


def _is_plait_of(layer: StackLayer, cord: Cord) -> bool:
    return layer.role in PLAITED and all(
        group.cord.name == cord.name and not group.gutted for group in layer.groups
    )


def _evenly(seen: list[Seen]) -> list[Seen]:
    if len(seen) <= MOST_READINGS:
        return seen
    return [seen[k * len(seen) // MOST_READINGS] for k in range(MOST_READINGS)]


def _placed_readings(in_force: InForce, seen: Sequence[Seen]) -> tuple[ChartReading, ...]:
    """Readings with the diameter of the body under them, as the fit has it, and their own expected one."""
    inside = [Stack(one.stack.layers[:-1], one.stack.foundation_mm) for one, _ in seen]
    asked = [
        Query(stack=stack, maker=one.maker, condition=one.condition, at_mm=one.at_mm, inner=exposed)
        for (one, _), body in zip(seen, inside, strict=True)
        for stack, exposed in ((one.stack, one.inner), (body, True))
        if stack.layers
    ]
    answers = iter(in_force.predict(asked))
    found = []
    for (one, mark), body in zip(seen, inside, strict=True):
        expected = next(answers).diameter_mm
        over = next(answers).diameter_mm if body.layers else body.foundation_mm
        found.append(
            ChartReading(
                whip=one.whip,
                at_mm=one.at_mm or 0.0,
                strands=one.stack.layers[-1].count.mid,
                over_mm=over,
                diameter_mm=one.diameter_mm,
                expected_mm=expected,
                mark=mark,
            )
        )
    return tuple(found)
