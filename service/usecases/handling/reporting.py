"""The report on handling: what a page needs of an answer."""

import datetime as dt
from collections.abc import Iterator
from typing import Final

import numpy as np

from plaitlog.models.counted import counted
from plaitlog.models.handling.associations import Association
from plaitlog.models.handling.definitions import BY_NAME
from plaitlog.models.handling.spoken import spoken
from plaitlog.models.units import MM_PER
from plaitlog.service.reports.handling_report import AssociationRow, HandlingReport, NamedPoint, Part, Scatter
from plaitlog.service.usecases.handling.answer import Answer
from plaitlog.service.usecases.handling.answer_words import asked, parts, summary
from plaitlog.service.usecases.handling.parameter_values import unit
from plaitlog.service.usecases.handling.words import (
    NOT_CAUSE,
    bend_text,
    p_text,
    price,
    titles,
    whips_of,
)
from plaitlog.service.usecases.rating_anchors import CARE
from plaitlog.service.usecases.shown_units import ShownUnits

SCATTERS: Final = 4
"""Pictures for each quality, of the strongest evidence."""


def report_of(found: Answer, shown: ShownUnits) -> HandlingReport:
    """The report, in the viewer's units."""
    ranked = [one for quality in found.question.qualities for one in found.associations.ranked(quality)]
    whips = whips_of(found.question.type, len(found.study.labels))
    return HandlingReport(
        asked=asked(found),
        words=tuple(summary(found, shown)),
        made_at=dt.datetime.now(dt.UTC),
        rests_on=f"{whips} rated in {counted(found.rated.sessions, 'session')}; {found.in_force.rests_on}",
        price=price(found.associations),
        rows=tuple(_row(one) for one in ranked),
        scatters=tuple(_scatters(found, shown)),
        parts=(*parts(found, shown), Part(title="Before you throw", sentences=(CARE,))),
        caution=NOT_CAUSE,
    )


def _row(one: Association) -> AssociationRow:
    return AssociationRow(
        title=titles(one),
        quality=spoken(one.quality),
        n=one.n,
        rho=one.rho,
        low_95=one.low_95,
        high_95=one.high_95,
        p=p_text(one.p),
        q=p_text(one.q),
        partial="" if one.partial_rho is None else f"{one.partial_rho:+.2f}",
        bend=bend_text(one),
        claimed=one.claimed or one.bend_claimed,
        why=next((finding.text for finding in one.findings), "") if one.rho is None else "",
    )


def _scatters(found: Answer, shown: ShownUnits) -> Iterator[Scatter]:
    for quality in found.question.qualities:
        told = [one for one in found.associations.ranked(quality) if one.rho is not None]
        # Of many qualities only what is claimed is drawn: a page is to be looked at, not leafed through.
        drawn = told[:SCATTERS] if len(found.question.qualities) == 1 else []
        drawn += [one for one in told if (one.claimed or one.bend_claimed) and one not in drawn]
        for one in drawn:
            values, ratings = found.study.parameters[one.parameter], found.study.ratings[quality]
            scale, in_unit = _unit(one.parameter, shown)
            known = np.flatnonzero(np.isfinite(values) & np.isfinite(ratings)).tolist()
            yield Scatter(
                parameter=f"{spoken(one.parameter)}{in_unit}",
                quality=spoken(quality),
                points=tuple(
                    NamedPoint(
                        label=found.study.labels[k],
                        value=float(values[k]) / scale,
                        rating=float(ratings[k]),
                    )
                    for k in known
                ),
            )


def _unit(parameter: str, shown: ShownUnits) -> tuple[float, str]:
    """What a value is divided by to be shown, and its unit in brackets."""
    definition = BY_NAME[parameter]
    if definition.unit == "length":
        return float(MM_PER[shown.lengths]), f" ({shown.lengths})"
    scale = float(MM_PER[shown.diameters]) if definition.unit == "diameter" else 1.0
    name = unit(definition, shown).strip()
    return scale, f" ({name})" if name else ""
