"""What is expected at the stations of a run, by the fit and by what was measured on the whip so far."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from plaitlog.models.calibration.observations import sd_of_interval
from plaitlog.models.calibration.prediction import Observation, Prediction, Query
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.stack import stack_at
from plaitlog.models.tables import FitRow, ReadingRow
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.usecases.loading import whip_keys
from plaitlog.service.usecases.measuring.runs import Setup
from plaitlog.service.usecases.observing import REASONS, is_inner, observation
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.predicting import InForce, fit_in_force
from plaitlog.service.usecases.workshop import cords_by_name, whip

Z99: Final = 2.5758293035489004
"""Standard normal quantile at 0.995: half width of an equal-tailed 99 % interval."""


@dataclass(frozen=True, slots=True)
class OnBench:
    """A whip that is measured (its readings placed), with what predicts it.

    new : the readings that the fit does not know, by key; of the others it must not be told twice.
    """

    whip: Whip
    cords: Mapping[str, Cord]
    in_force: InForce
    new: Mapping[int, Observation]


@dataclass(frozen=True, slots=True)
class Expected:
    """What is expected at a station: a prediction, or why there is none."""

    told: Prediction | None
    why: str = ""

    @property
    def within_99_mm(self) -> tuple[float, float] | None:
        """The 99 % interval, as wide as the 90 % one says."""
        if self.told is None:
            return None
        half = Z99 * sd_of_interval(self.told.low_90_mm, self.told.high_90_mm)
        return self.told.diameter_mm * math.exp(-half), self.told.diameter_mm * math.exp(half)

    def sizes(self) -> dict[str, float | None]:
        """Expected size and ends of the intervals, by the names that a step of a run has for them."""
        low, high = self.within_99_mm or (None, None)
        told = self.told
        return {
            "expected_mm": None if told is None else told.diameter_mm,
            "low_90_mm": None if told is None else told.low_90_mm,
            "high_90_mm": None if told is None else told.high_90_mm,
            "low_99_mm": low,
            "high_99_mm": high,
        }


def on_bench(session: Session, label: str) -> OnBench:
    """The whip with the fit in force and the readings that the fit does not know. NotFoundError."""
    found = placed(whip(session, label))
    cords = cords_by_name(session)
    fitted_at = session.scalar(select(FitRow.created_at).where(FitRow.current))
    # In the order in which the whip has them.
    rows = session.execute(
        select(ReadingRow.id, ReadingRow.created_at)
        .where(ReadingRow.whip_id == whip_keys(session, [label])[label])
        .order_by(ReadingRow.id)
    )
    seen = {}
    for row, reading in zip(rows, found.readings, strict=True):
        if fitted_at is None or row.created_at > fitted_at:
            try:
                seen[row.id] = observation(found, reading, cords)
            except StackNotKnownError:
                continue
    return OnBench(found, cords, fit_in_force(session), seen)


def expected(bench: OnBench, setup: Setup, readings: Sequence[Observation] | None = None) -> list[Expected]:
    """What is expected at every station, by all new readings of the whip or by those that are given."""
    given = tuple(bench.new.values() if readings is None else readings)
    found: list[Query | str] = [_query(bench, setup, station.at_mm, given) for station in setup.stations]
    told = iter(bench.in_force.predict([query for query in found if isinstance(query, Query)]))
    return [Expected(None, one) if isinstance(one, str) else Expected(next(told)) for one in found]


def expected_without(bench: OnBench, keys: Sequence[int]) -> list[Expected]:
    """For each of these new readings what all others let expect in its place."""
    queries = []
    for key in keys:
        own = bench.new[key]
        queries.append(
            Query(
                stack=own.stack,
                maker=own.maker,
                condition=own.condition,
                at_mm=own.at_mm,
                inner=own.inner,
                readings=tuple(seen for other, seen in bench.new.items() if other != key),
            )
        )
    return [Expected(told) for told in bench.in_force.predict(queries)]


def _query(bench: OnBench, setup: Setup, at_mm: float, readings: tuple[Observation, ...]) -> Query | str:
    try:
        stack = stack_at(bench.whip, at_mm, bench.cords, setup.after_layer)
    except StackNotKnownError as error:
        return error.finding.text if bench.whip.layers else REASONS["no-layers"]
    return Query(
        stack=stack,
        maker=bench.whip.maker,
        condition=setup.condition,
        at_mm=at_mm,
        readings=readings,
        inner=is_inner(bench.whip, setup.after_layer),
    )
