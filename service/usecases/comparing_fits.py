"""Two stored fits beside each other: what changed for which cord, in mm at named stacks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy.orm import Session

from plaitlog.models.calibration.artifact import from_json
from plaitlog.models.calibration.calibrated import WHIP_COMPONENTS
from plaitlog.models.calibration.prediction import Prediction
from plaitlog.models.tables import FitRow
from plaitlog.models.whip import Cord
from plaitlog.service.usecases.cords.worth import SHOWN_CORE, SHOWN_COVER, typical
from plaitlog.service.usecases.fitting import not_found
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.wanted_stacks import maker_of_most
from plaitlog.service.usecases.whips_in_fit import whips_known_to
from plaitlog.service.usecases.workshop import cords_by_name

COUNTS: Final = range(8, 26, 2)
TOLD_MM: Final = 0.05
"""Changes below this are not seen on calipers that show a tenth of a millimetre."""
NAMED: Final[Mapping[str, str]] = {
    "residual": "the irregularity of a plait",
    **dict(
        zip(
            WHIP_COMPONENTS,
            ("the pull of a whip", "its drift along a whip", "the pull of a layer"),
            strict=True,
        )
    ),
    "cord": "how cords differ",
    "maker": "how makers differ",
}
"""Standard deviations that are told, in words."""
TELLING: Final = 0.1
"""Share by which one must change to be told."""


@dataclass(frozen=True, slots=True)
class CordBefore:
    """A typical stack of one cord by both fits, and the readings of the cord that each rests on."""

    cord: str
    stack: str
    before: Prediction
    after: Prediction
    readings_before: int
    readings_after: int

    @property
    def moved_mm(self) -> float:
        return self.after.diameter_mm - self.before.diameter_mm

    @property
    def widened_mm(self) -> float:
        """Change of half the 90 % interval."""
        return half_mm(self.after) - half_mm(self.before)

    @property
    def changed(self) -> bool:
        return max(abs(self.moved_mm), abs(self.widened_mm)) >= TOLD_MM

    def to_json(self) -> dict[str, Any]:
        return {
            "cord": self.cord,
            "stack": self.stack,
            "before_mm": self.before.diameter_mm,
            "after_mm": self.after.diameter_mm,
            "half_90_before_mm": half_mm(self.before),
            "half_90_after_mm": half_mm(self.after),
            "readings_before": self.readings_before,
            "readings_after": self.readings_after,
        }


def half_mm(prediction: Prediction) -> float:
    """Half the 90 % interval, mm."""
    return (prediction.high_90_mm - prediction.low_90_mm) / 2


@dataclass(frozen=True, slots=True)
class Comparison:
    """What changed from fit ``before`` to fit ``after``; cords with the largest change first.

    readings, whips : of both. new_whips : known to the second and not to the first; gone_whips the other
    way round, among those still recorded. parameters, versions, spreads : only what changed, as (was, is).
    """

    before: int
    after: int
    readings: tuple[int, int]
    whips: tuple[int, int]
    new_whips: tuple[str, ...]
    gone_whips: tuple[str, ...]
    cords: tuple[CordBefore, ...]
    parameters: Mapping[str, tuple[Any, Any]]
    versions: tuple[str, str] | None
    spreads: Mapping[str, tuple[float, float]]

    def sentences(self, shown: ShownUnits) -> list[str]:
        found = [self._rest_on()]
        changed = [cord for cord in self.cords if cord.changed]
        if changed:
            most = changed[0]
            found.append(
                f"Of {len(self.cords)} cords {len(changed)} changed by as much as calipers show. Most: "
                f"{most.cord}, {most.stack}, from {shown.diameter(most.before.diameter_mm)} to "
                f"{shown.diameter(most.after.diameter_mm)}, its 90 % interval from "
                f"± {half_mm(most.before):.2f} mm to ± {half_mm(most.after):.2f} mm."
            )
        else:
            found.append("No cord's typical stack changed by as much as calipers show.")
        added = {x.cord: x.readings_after - x.readings_before for x in self.cords}
        for word, sign in (("more", 1), ("fewer", -1)):
            some = [f"{name} {sign * n}" for name, n in added.items() if sign * n > 0]
            if some:
                found.append(f"Readings {word}: {', '.join(some)}.")
        for word, labels in (("New", self.new_whips), ("No longer", self.gone_whips)):
            if labels:
                found.append(f"{word} in it: {_some(labels)}.")
        for name, (was, now) in self.spreads.items():
            found.append(
                f"{NAMED[name][0].upper()}{NAMED[name][1:]}: {100 * was:.1f} % was, {100 * now:.1f} % is."
            )
        for name, pair in self.parameters.items():
            found.append(f"Parameter {name}: {pair[0]} was, {pair[1]} is.")
        if self.versions is not None:
            found.append(f"Made by version {self.versions[0]} and {self.versions[1]} of the program.")
        return found

    def _rest_on(self) -> str:
        more = self.readings[1] - self.readings[0]
        change = f"{abs(more)} {'more' if more > 0 else 'fewer'}" if more else "as many"
        return (
            f"Fit {self.after} rests on {self.readings[1]} readings of {self.whips[1]} whips, fit "
            f"{self.before} on {self.readings[0]} of {self.whips[0]}: {change}."
        )

    def to_json(self, shown: ShownUnits) -> dict[str, Any]:
        return {
            "before": self.before,
            "after": self.after,
            "readings": list(self.readings),
            "whips": list(self.whips),
            "new_whips": list(self.new_whips),
            "gone_whips": list(self.gone_whips),
            "cords": [cord.to_json() for cord in self.cords],
            "parameters": {name: list(pair) for name, pair in self.parameters.items()},
            "code_versions": None if self.versions is None else list(self.versions),
            "spreads": {name: list(pair) for name, pair in self.spreads.items()},
            "words": self.sentences(shown),
        }


def _some(labels: Sequence[str], most: int = 8) -> str:
    rest = len(labels) - most
    return ", ".join(labels[:most]) + (f" and {rest} more" if rest > 0 else "")


def compare(session: Session, before: int, after: int) -> Comparison:
    """What changed between two stored fits, told on the cords as they are recorded now.

    Raises
    ------
    NotFoundError
        With the numbers there are.
    ArtifactError
        Where a stored fit does not reproduce its own objective.
    """
    rows = []
    for number in (before, after):
        row = session.get(FitRow, number)
        if row is None:
            raise not_found(session, number)
        rows.append(row)
    old, new = (InForce(from_json(row.artefact), row.id) for row in rows)
    was, now = old.calibration, new.calibration
    known = [
        frozenset(whips_known_to(session, row)[0]) if "records" in row.artefact else None for row in rows
    ]
    first, second = known
    parameters = {
        name: (was.parameters.get(name), value)
        for name, value in now.parameters.items()
        if was.parameters.get(name) != value
    }
    spreads = {
        name: (was.variances[name] ** 0.5, now.variances[name] ** 0.5)
        for name in NAMED
        if abs(now.variances[name] ** 0.5 - was.variances[name] ** 0.5) > TELLING * was.variances[name] ** 0.5
    }
    return Comparison(
        before=before,
        after=after,
        readings=(was.readings, now.readings),
        whips=(was.whips, now.whips),
        new_whips=_beyond(second, first),
        gone_whips=_beyond(first, second),
        cords=_cords(old, new, list(cords_by_name(session).values())),
        parameters=parameters,
        versions=None if was.code_version == now.code_version else (was.code_version, now.code_version),
        spreads=spreads,
    )


def _beyond(these: frozenset[str] | None, those: frozenset[str] | None) -> tuple[str, ...]:
    return () if these is None or those is None else tuple(sorted(these - those))


def _cords(old: InForce, new: InForce, cords: Sequence[Cord]) -> tuple[CordBefore, ...]:
    """A stack of every cord under the overlay that comes nearest to a cover of 0.9 by the later fit."""
    maker = maker_of_most(new.calibration)
    tried = [typical(cord, count, maker) for cord in cords for count in COUNTS]
    was, now = old.predict(tried), new.predict(tried)
    found = []
    for k, cord in enumerate(cords):
        places = range(k * len(COUNTS), (k + 1) * len(COUNTS))
        best = min(places, key=lambda i: abs((now[i].cover or 0.0) - SHOWN_COVER))
        found.append(
            CordBefore(
                cord.name,
                f"{SHOWN_CORE} in the core under {COUNTS[best - places[0]]}",
                was[best],
                now[best],
                old.calibration.cords.get(cord.name, 0),
                new.calibration.cords.get(cord.name, 0),
            )
        )
    return tuple(sorted(found, key=lambda x: -max(abs(x.moved_mm), abs(x.widened_mm))))
