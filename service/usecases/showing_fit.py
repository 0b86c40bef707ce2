"""A stored fit as a page shows it, kept as long as nothing changes: it takes a good part of a second.

What takes longer still (test plaits, drift, gaps) is not in it.
"""

from dataclasses import dataclass
from typing import Any, Final
from weakref import WeakKeyDictionary

from sqlalchemy import Pool
from sqlalchemy.orm import Session

from plaitlog.service.reports.fit_content import content
from plaitlog.service.reports.fit_report import OddReading
from plaitlog.service.usecases.fitting import FitInList
from plaitlog.service.usecases.observing import fingerprint_of
from plaitlog.service.usecases.reporting_fit import report_of
from plaitlog.service.usecases.shown_units import ShownUnits

KEPT: Final = 4


@dataclass(frozen=True, slots=True)
class ShownFit:
    """``content`` as of ``reports.fit_content``; ``odd``: the readings of its table of odd ones, in order."""

    content: dict[str, Any]
    odd: tuple[OddReading, ...]


_shown: WeakKeyDictionary[Pool, dict[tuple[object, ...], ShownFit]] = WeakKeyDictionary()


def shown_fit(session: Session, fit: FitInList, shown: ShownUnits) -> ShownFit:
    """What is told of a fit beside the records as they are now."""
    kept = _shown.setdefault(session.connection().engine.pool, {})
    asked = (fit.number, fit.created_at, fit.current, fingerprint_of(session), shown)
    found = kept.get(asked)
    if found is None:
        report = report_of(session, fit.number, shown, with_plaits=False)
        found = ShownFit(content(report), report.odd)
        for old in list(kept)[: -KEPT + 1]:
            kept.pop(old, None)
        kept[asked] = found
    return found
