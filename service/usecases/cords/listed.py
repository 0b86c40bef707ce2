"""The list of cords: what each is, what is in stock, what teaches it, and how sure the fit is of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from sqlalchemy import distinct, func, select
from sqlalchemy.orm import Session

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.prediction import Prediction
from plaitlog.models.tables import CordRow, LayerCordRow, LayerRow, ReadingRow, WhipRow
from plaitlog.models.whip import Cord
from plaitlog.service.usecases.cords.worth import SHOWN_COVER, typical
from plaitlog.service.usecases.loading import cord_names
from plaitlog.service.usecases.observing import is_made
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.reporting_fit import thin_in
from plaitlog.service.usecases.workshop import CordInWorkshop, cords_with_stock

OVERLAYS: Final = range(8, 26, 2)


@dataclass(frozen=True, slots=True)
class TypicalPlait:
    """Six strands of a cord under the overlay of it that comes nearest to a cover of 0.9."""

    overlay: int
    prediction: Prediction

    @property
    def half_mm(self) -> float:
        """Half of the 90 % interval, mm."""
        return (self.prediction.high_90_mm - self.prediction.low_90_mm) / 2

    @property
    def half_share(self) -> float:
        """The same as a share of the diameter."""
        return self.half_mm / self.prediction.diameter_mm


@dataclass(frozen=True, slots=True)
class CordInList:
    """One line of the list. readings, whips : that teach it; thin : what there is little of, in words."""

    there: CordInWorkshop
    readings: int
    whips: int
    thin: tuple[str, ...]
    plait: TypicalPlait


def cords_listed(session: Session, in_force: InForce, maker: str | None = None) -> list[CordInList]:
    """Every cord by name; as many queries for hundreds of them as for one. ``maker``: whose hands."""
    there = cords_with_stock(session)
    plaits = typical_plaits(in_force, [one.cord for one in there], maker)
    read = whips_read(session)
    found = []
    for one, plait in zip(there, plaits, strict=True):
        name = one.cord.name
        readings, counts = taught_by(in_force.calibration, name)
        whips = read.get(name, 0) if readings else 0
        thin = ("no fit yet",) if in_force.number is None else thin_in(readings, whips, counts)
        found.append(CordInList(one, readings, whips, thin, plait))
    return found


def taught_by(calibration: Calibration, name: str) -> tuple[int, int]:
    """Readings of a cord that a fit learnt from, and different strand counts of plaits among them."""
    counts = sum(1 for column in calibration.keyed if column.startswith(f"cord_count:{name}|"))
    return calibration.cords.get(name, 0), counts


def whips_read(session: Session, name: str | None = None) -> dict[str, int]:
    """By cord: whips with readings in which it lies; of one cord where it is named."""
    read = select(ReadingRow.whip_id).join(WhipRow, WhipRow.id == ReadingRow.whip_id).where(is_made())
    counted = session.execute(
        select(LayerCordRow.cord_id, func.count(distinct(LayerRow.whip_id)))
        .join(LayerRow, LayerRow.id == LayerCordRow.layer_id)
        .join(CordRow, CordRow.id == LayerCordRow.cord_id)
        .where(LayerRow.whip_id.in_(read), *([] if name is None else [CordRow.name == name]))
        .group_by(LayerCordRow.cord_id)
    )
    names = cord_names(session)
    return {names[key]: number for key, number in counted}


def typical_plaits(in_force: InForce, cords: Sequence[Cord], maker: str | None) -> list[TypicalPlait]:
    """The typical plait of each cord, all predicted at once."""
    asked = [(cord, count) for cord in cords for count in OVERLAYS]
    told = in_force.predict([typical(cord, count, maker) for cord, count in asked])
    found = []
    for _, of_one in groupby(enumerate(asked), key=lambda each: each[0] // len(OVERLAYS)):
        tried = [TypicalPlait(count, told[place]) for place, (_, count) in of_one]
        found.append(min(tried, key=lambda one: abs((one.prediction.cover or 0.0) - SHOWN_COVER)))
    return found
