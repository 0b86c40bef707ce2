"""A run of measuring at the bench: what is to be measured, and what was done of it so far.

It is kept beside the records, one for each whip, so that it goes on where it was left. The readings
themselves are records of their own from the moment they are taken.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any, Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from plaitlog.models.tables import DraftRow, ReadingRow
from plaitlog.models.whip import Condition
from plaitlog.service.usecases.loading import whip_keys
from plaitlog.service.usecases.measuring.stations import Station

KIND: Final = "measuring"


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What is to be measured. ``after_layer`` counts from 1; None: the finished whip.

    stations : from the handle end on, in whichever order they are measured. each : readings a station.
    """

    stations: tuple[Station, ...]
    after_layer: int | None = None
    condition: Condition | None = None
    each: int = 1
    from_point: bool = False
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One step of a run: a reading with what was expected before it, or a station that was passed over.

    station : its place in ``Setup.stations``. key : of the reading, None where it was passed over.
    change : by which it was stored. Expected sizes are None where the stack is not known.
    """

    station: int
    key: int | None = None
    change: int | None = None
    typed: str = ""
    size_mm: float = 0.0
    expected_mm: float | None = None
    low_90_mm: float | None = None
    high_90_mm: float | None = None
    low_99_mm: float | None = None
    high_99_mm: float | None = None
    remarks: tuple[str, ...] = ()

    @property
    def outside(self) -> bool:
        """Whether it lies outside of the 99 % interval."""
        if self.low_99_mm is None or self.high_99_mm is None:
            return False
        return not self.low_99_mm <= self.size_mm <= self.high_99_mm


@dataclass(frozen=True, slots=True)
class Due:
    """What is to be measured next: the station's place, and which of its readings, from 1."""

    station: int
    which: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A run so far. ``ended``: what is left is not to be measured. ``back``: what was taken back last."""

    setup: Setup
    taken: tuple[Taken, ...] = ()
    ended: bool = False
    back: Taken | None = None

    @property
    def order(self) -> tuple[int, ...]:
        """The stations' places as they are measured."""
        places = range(len(self.setup.stations))
        return tuple(reversed(places)) if self.setup.from_point else tuple(places)

    def of_station(self, station: int) -> tuple[Taken, ...]:
        return tuple(one for one in self.taken if one.station == station)

    def is_done(self, station: int) -> bool:
        """Whether all its readings are there, or it was passed over."""
        taken = self.of_station(station)
        return len(taken) >= self.setup.each or any(one.key is None for one in taken)

    @property
    def due(self) -> Due | None:
        """What comes next; None where nothing does."""
        if self.ended:
            return None
        for station in self.order:
            if not self.is_done(station):
                return Due(station, len(self.of_station(station)) + 1)
        return None


def begin_run(session: Session, label: str, setup: Setup) -> Run:
    """A run over these stations; one of the same whip that was under way is put aside. NotFoundError."""
    run = Run(setup=setup)
    keep_run(session, label, run)
    return run


def kept_run(session: Session, label: str) -> Run | None:
    """The run of a whip as far as its readings are still there; None where none was begun."""
    row = _row(session, label)
    if row is None:
        return None
    run = _from_json(row.content)
    keys = [one.key for one in run.taken if one.key is not None]
    there = set(session.scalars(select(ReadingRow.id).where(ReadingRow.id.in_(keys)))) if keys else set()
    return replace(run, taken=tuple(one for one in run.taken if one.key is None or one.key in there))


def keep_run(session: Session, label: str, run: Run) -> None:
    """Keep a run as it is now."""
    row = _row(session, label)
    content = asdict(run)
    if row is None:
        session.add(DraftRow(token=_token(session, label), kind=KIND, title=label, content=content))
    else:
        row.title, row.content = label, content


def _row(session: Session, label: str) -> DraftRow | None:
    return session.scalars(select(DraftRow).where(DraftRow.token == _token(session, label))).one_or_none()


def _token(session: Session, label: str) -> str:
    """By the whip's number, which a new label leaves as it is."""
    return f"{KIND}-{whip_keys(session, [label]).get(label, 0)}"


def _from_json(kept: Mapping[str, Any]) -> Run:
    setup = kept["setup"]
    back = kept["back"]
    return Run(
        setup=Setup(
            **{
                **setup,
                "stations": tuple(Station(**one) for one in setup["stations"]),
                "left_out": tuple(setup["left_out"]),
            }
        ),
        taken=tuple(map(_taken, kept["taken"])),
        ended=kept["ended"],
        back=None if back is None else _taken(back),
    )


def _taken(kept: Mapping[str, Any]) -> Taken:
    return Taken(**{**kept, "remarks": tuple(kept["remarks"])})
