"""Folds for a cross-validation: whole whips, cords or makers are held out, never single readings."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.evidence import Grouping
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.errors import Finding

WHIP_FOLDS: Final = 5
CORD_FOLDS: Final = 20
"""Above so many cords some are held out together: a fold for each would cost more than it tells."""
MOST_JUDGED: Final = 40
"""Whips by which a fit to few whips is judged; more would say much the same."""
_TOO_FEW: Final[dict[Grouping, tuple[str, str]]] = {
    "whip": ("there are fewer than two whips with readings", "record another whip"),
    "cord": ("each cord is in every whip", "record a whip, or a test plait, of another cord"),
    "maker": ("the makers have no readings of their own", "note the maker of each whip"),
}


@dataclass(frozen=True)
class Fold:
    """Places of the observations to learn from and to be judged on, and the group of each of the latter.

    rest : whether the rest of each whip is judged as well, once its first readings are taken.
    """

    grouping: Grouping
    train: NDArray[np.intp]
    test: NDArray[np.intp]
    groups: tuple[str, ...]
    rest: bool = True


def folds(
    observations: Sequence[Observation], grouping: Grouping, random_state: int = 0
) -> tuple[list[Fold], list[Finding]]:
    """The folds of one grouping; none, and a finding, where there are too few groups.

    Whips are dealt into five folds; cords and makers are held out one by one, but above 20 cords each once in
    one of 20 folds, and a finding says so. Whoever is held out takes whole whips along: a whip shares its
    pull, so none of its readings may teach. Readings marked doubtful are not judged. A single maker is no
    finding.
    """
    told: list[Finding] = []
    if grouping == "whip":
        found = _by_whip(observations, random_state)
    elif grouping == "cord":
        dealt = _dealt_cords(cords_of(observations), random_state)
        found = [_held(observations, grouping, cords, _contains) for cords in dealt]
        together = max(map(len, dealt), default=0)
        if together > 1:
            text = (
                f"{sum(map(len, dealt))} cords were held out up to {together} at a time: each fit had"
                " fewer whips to learn from, and some readings lie on two cords that it had not seen"
            )
            told.append(Finding("cords-held-out-together", text, where="by cord"))
    else:
        found = [_held(observations, grouping, [maker], _made_by) for maker in makers_of(observations)]
        if len(found) < 2:
            return [], []
    kept = [fold for fold in found if len(fold.train) and len(fold.test)]
    if kept:
        return kept, told
    text, remedy = _TOO_FEW[grouping]
    return [], [Finding("no-cross-validation", f"{text}, so none can be held out", remedy, f"by {grouping}")]


def few_whips_folds(
    observations: Sequence[Observation], counts: Sequence[int], random_state: int = 0
) -> dict[int, Fold]:
    """For each number of whips a fold that learns from so many, drawn at random, and judges up to 40 others.

    A larger draw holds the smaller ones, and all judge the same whips. A number is left out where fewer whips
    than half of it would be left to judge.
    """
    places = _places(observations)
    whips = sorted(places)
    kept = [count for count in sorted(counts) if len(whips) - count >= max(2, count / 2)]
    if not kept:
        return {}
    order = np.random.default_rng(random_state).permutation(len(whips))
    judged = [whips[k] for k in order[kept[-1] :][:MOST_JUDGED]]
    test = [i for whip in judged for i in places[whip] if not observations[i].doubtful]
    groups = [observations[i].whip for i in test]
    found = {}
    for count in kept:
        train = sorted(i for k in order[:count] for i in places[whips[k]])
        if test:
            fold = _fold("whip", train, test, groups)
            found[count] = replace(fold, rest=False)
    return found


def cords_of(observations: Sequence[Observation]) -> list[str]:
    """Names of all cords in the stacks, sorted."""
    return sorted({cord.name for observation in observations for cord in observation.stack.cords})


def makers_of(observations: Sequence[Observation]) -> list[str]:
    """Names of all makers noted, sorted."""
    return sorted({observation.maker for observation in observations if observation.maker is not None})


def _contains(cord: str) -> Callable[[Observation], bool]:
    return lambda observation: any(other.name == cord for other in observation.stack.cords)


def _made_by(maker: str) -> Callable[[Observation], bool]:
    return lambda observation: observation.maker == maker


def _dealt_cords(cords: Sequence[str], random_state: int) -> list[list[str]]:
    """The cords of every fold."""
    if len(cords) <= CORD_FOLDS:
        return [[cord] for cord in cords]
    order = np.random.default_rng(random_state).permutation(len(cords))
    return [sorted(cords[k] for k in part) for part in np.array_split(order, CORD_FOLDS)]


def _held(
    observations: Sequence[Observation],
    grouping: Grouping,
    groups: Sequence[str],
    judged: Callable[[str], Callable[[Observation], bool]],
) -> Fold:
    """These groups held out; a reading that belongs to two of them is judged with either."""
    places = {
        group: [i for i, observation in enumerate(observations) if belongs(observation)]
        for group in groups
        for belongs in [judged(group)]
    }
    whips = {observations[i].whip for there in places.values() for i in there}
    train = [i for i, observation in enumerate(observations) if observation.whip not in whips]
    test = [(i, group) for group in groups for i in places[group] if not observations[i].doubtful]
    return _fold(grouping, train, [i for i, _ in test], [group for _, group in test])


def _by_whip(observations: Sequence[Observation], random_state: int) -> list[Fold]:
    places = _places(observations)
    whips = sorted(places)
    order = np.random.default_rng(random_state).permutation(len(whips))
    found = []
    for part in np.array_split(order, min(WHIP_FOLDS, len(whips))) if whips else []:
        held = {whips[k] for k in part}
        train = [i for i, observation in enumerate(observations) if observation.whip not in held]
        test = [i for whip in sorted(held) for i in places[whip] if not observations[i].doubtful]
        found.append(_fold("whip", train, test, [observations[i].whip for i in test]))
    return found


def _places(observations: Sequence[Observation]) -> dict[str, list[int]]:
    """Positions of the readings of every whip."""
    places: dict[str, list[int]] = defaultdict(list)
    for i, observation in enumerate(observations):
        places[observation.whip].append(i)
    return places


def _fold(grouping: Grouping, train: list[int], test: list[int], groups: list[str]) -> Fold:
    return Fold(grouping, np.array(train, dtype=np.intp), np.array(test, dtype=np.intp), tuple(groups))
