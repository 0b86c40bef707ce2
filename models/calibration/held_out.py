"""Readings held out of a fit: what was measured, and what the model and its rivals predict for them."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from plaitlog.models.calibration.evidence import MODEL, Kind
from plaitlog.models.calibration.folds import Fold
from plaitlog.models.calibration.observations import SLIP, Observation, Prediction, Query
from plaitlog.models.calibration.packed import Array
from plaitlog.models.calibration.rivals import Rival, all_rivals
from plaitlog.models.stack import PLAITED

TAKEN: Final = 0.4
"""Share of a whip's readings that are taken before the rest is predicted: about five of thirteen."""
FEWEST_READINGS: Final = 4
"""On a whip with fewer readings there is no rest to speak of."""


class Fitted(Protocol):
    """A fitted model of the diameter."""

    def predict(self, queries: Sequence[Query]) -> list[Prediction]: ...


Fit = Callable[[Sequence[Observation]], Fitted]


@dataclass(frozen=True)
class HeldOut:
    """n held-out readings: group, whip and station of each (NaN unknown), number of plaited layers, whether a
    cord was new; by contender (log D, standard deviation)."""

    kind: Kind
    groups: tuple[str, ...]
    whips: tuple[str, ...]
    at_mm: Array
    depth: NDArray[np.intp]
    new_cord: NDArray[np.bool_]
    measured_mm: Array
    predicted: Mapping[str, tuple[Array, Array]]

    def error(self, name: str) -> Array:
        return np.asarray(np.log(self.measured_mm) - self.predicted[name][0])

    def z(self, name: str) -> Array:
        return np.asarray(self.error(name) / self.predicted[name][1])

    @property
    def slips(self) -> NDArray[np.bool_]:
        """Readings that every contender misses by more than ``SLIP``."""
        missed = [np.abs(self.error(name)) > SLIP for name in self.predicted]
        return np.asarray(np.logical_and.reduce(missed))

    def only(self, kept: NDArray[np.bool_]) -> "HeldOut":
        places = np.flatnonzero(kept).tolist()
        return HeldOut(
            self.kind,
            tuple(self.groups[k] for k in places),
            tuple(self.whips[k] for k in places),
            self.at_mm[kept],
            self.depth[kept],
            self.new_cord[kept],
            self.measured_mm[kept],
            {name: (mean[kept], sd[kept]) for name, (mean, sd) in self.predicted.items()},
        )


def joined(parts: Sequence[HeldOut]) -> HeldOut:
    """All readings of all parts, which hold out the same kind."""
    return HeldOut(
        parts[0].kind,
        tuple(group for part in parts for group in part.groups),
        tuple(whip for part in parts for whip in part.whips),
        np.concatenate([part.at_mm for part in parts]),
        np.concatenate([part.depth for part in parts]),
        np.concatenate([part.new_cord for part in parts]),
        np.concatenate([part.measured_mm for part in parts]),
        {
            name: (
                np.concatenate([part.predicted[name][0] for part in parts]),
                np.concatenate([part.predicted[name][1] for part in parts]),
            )
            for name in parts[0].predicted
        },
    )


def contest(observations: Sequence[Observation], fold: Fold, fit: Fit, random_state: int) -> list[HeldOut]:
    """Model and rivals learn from the fold's training readings and predict the others.

    Where whips are held out, the rest of each is predicted too, once its first readings are taken; then each
    rival is shifted by its mean residual on these.
    """
    # One thread for each product: folds run beside each other, and the same sums come out everywhere.
    with threadpool_limits(1):
        return _contested(observations, fold, fit, random_state)


def _contested(observations: Sequence[Observation], fold: Fold, fit: Fit, random_state: int) -> list[HeldOut]:
    train = [observations[int(i)] for i in fold.train]
    test = [observations[int(i)] for i in fold.test]
    model = fit(train)
    rivals = [rival.fit(train) for rival in all_rivals(random_state)]
    queries = [query(observation) for observation in test]
    found = [_held_out(fold.grouping, fold.groups, test, model.predict(queries), _untaught(rivals, test))]
    if fold.grouping == "whip" and fold.rest:
        # A slip of the pen among the readings taken would throw the rivals off for the whole whip.
        sound = [x for x, slip in zip(test, found[0].slips.tolist(), strict=True) if not slip]
        taken, rest = _parted(sound)
        if rest:
            told = model.predict([query(x, taken[x.whip]) for x in rest])
            shifted = _shifted(rivals, train, taken, rest)
            found.append(_held_out("rest", [x.whip for x in rest], rest, told, shifted))
    return found


def query(observation: Observation, readings: tuple[Observation, ...] = ()) -> Query:
    """The question that a reading answers."""
    return Query(
        stack=observation.stack,
        maker=observation.maker,
        condition=observation.condition,
        at_mm=observation.at_mm,
        inner=observation.inner,
        readings=readings,
    )


def _held_out(
    kind: Kind,
    groups: Sequence[str],
    test: Sequence[Observation],
    told: Sequence[Prediction],
    others: Mapping[str, tuple[Array, Array]],
) -> HeldOut:
    own = (np.log([p.diameter_mm for p in told]), np.array([p.sd_log for p in told]))
    return HeldOut(
        kind,
        tuple(groups),
        tuple(observation.whip for observation in test),
        np.array([np.nan if x.at_mm is None else x.at_mm for x in test], dtype=np.float64),
        np.array([sum(layer.role in PLAITED for layer in x.stack.layers) for x in test], dtype=np.intp),
        np.array([p.new_cord for p in told], dtype=np.bool_),
        np.array([observation.diameter_mm for observation in test], dtype=np.float64),
        {MODEL: own, **others},
    )


def _untaught(rivals: Sequence[Rival], test: Sequence[Observation]) -> dict[str, tuple[Array, Array]]:
    return {rival.name: rival.predict(test) for rival in rivals}


def _parted(
    test: Sequence[Observation],
) -> tuple[dict[str, tuple[Observation, ...]], list[Observation]]:
    """The readings taken of every whip, in the order of a build, and those of the finished whip to come."""
    whips: dict[str, list[Observation]] = defaultdict(list)
    for observation in test:
        if observation.at_mm is not None:
            whips[observation.whip].append(observation)
    taken: dict[str, tuple[Observation, ...]] = {}
    rest: list[Observation] = []
    for whip, there in whips.items():
        if len(there) >= FEWEST_READINGS:
            there.sort(key=lambda x: (not x.inner, x.at_mm or 0.0))
            first = max(2, round(TAKEN * len(there)))
            taken[whip] = tuple(there[:first])
            rest += [x for x in there[first:] if not x.inner]
    return taken, rest


def _shifted(
    rivals: Sequence[Rival],
    train: Sequence[Observation],
    taken: Mapping[str, tuple[Observation, ...]],
    rest: Sequence[Observation],
) -> dict[str, tuple[Array, Array]]:
    """Predictions of the rest of each whip, moved by the mean residual on the readings taken.

    A rival's spread is taken down as the spread of its own residuals within whips says, the mean's included.
    """
    found = {}
    whips = sorted({observation.whip for observation in rest})
    first = [x for whip in whips for x in taken[whip]]
    place = {whip: k for k, whip in enumerate(whips)}
    of_first = np.array([place[x.whip] for x in first])
    of_rest = np.array([place[x.whip] for x in rest])
    sizes = np.bincount(of_first)
    for rival in rivals:
        shift = np.bincount(of_first, _residuals(rival, first)) / sizes
        mean, sd = rival.predict(rest)
        within = _share_within(_residuals(rival, train), [x.whip for x in train])
        found[rival.name] = (mean + shift[of_rest], sd * within * np.sqrt(1 + 1 / sizes[of_rest]))
    return found


def _residuals(rival: Rival, observations: Sequence[Observation]) -> Array:
    return np.asarray(np.log([x.diameter_mm for x in observations]) - rival.predict(observations)[0])


def _share_within(residuals: Array, whips: Sequence[str]) -> float:
    """Spread of residuals about the mean of their whip, over their spread about 0."""
    codes = np.unique(np.array(whips), return_inverse=True)[1]
    sizes = np.bincount(codes)
    left = residuals - (np.bincount(codes, residuals) / sizes)[codes]
    free = len(residuals) - len(sizes)
    total = float(np.mean(residuals**2))
    if free < 1 or total == 0:
        return 1.0
    return float(np.clip(np.sqrt(np.sum(left**2) / free / total), 0.05, 1.0))
