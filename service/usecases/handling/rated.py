"""Rated whips: how each was judged, made comparable between raters, and what else could explain it."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

import numpy as np

from plaitlog.models.handling.agreement import Agreement, agreement
from plaitlog.models.handling.raters import Comparison, Score, by_rater, raters_of, standardised
from plaitlog.models.handling.study import Array
from plaitlog.models.whip import COMPARISONS, QUALITIES, Quality, RatingSession, Whip

OWN: Final = "the maker"
"""Whose a rating is that names nobody, of a whip whose maker is not noted."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rated:
    """n rated whips: everything of a ``Study`` but the taper parameters.

    levels : of ratings in numbers alone; a whip that was only compared has none, but has a rating.
    agreement : by quality, of several raters who judged the same whips in numbers; left out where too few
    did.
    raters, sessions : how many there are.
    """

    whips: tuple[Whip, ...]
    ratings: Mapping[Quality, Array]
    levels: Mapping[Quality, Array]
    numbers: Mapping[str, Array]
    groups: Mapping[str, tuple[str | None, ...]]
    agreement: Mapping[Quality, Agreement]
    raters: int
    sessions: int


def rated(whips: Iterable[Whip], type_: str | None = None) -> Rated:
    """The rated ones of whips, of one type where it is named (in whatever case).

    Raters are made comparable over all whips, also of other types. A comparison counts where the whip it was
    made with is rated in numbers for that quality, whatever its type.
    """
    given = list(whips)
    numbers = {quality: [one for whip in given for one in _scores(whip, quality)] for quality in QUALITIES}
    words = {quality: [one for whip in given for one in _comparisons(whip, quality)] for quality in QUALITIES}
    judged = {label for quality in QUALITIES for label in _judged(numbers[quality], words[quality])}
    every = [whip for whip in given if whip.label in judged]
    wanted = [whip for whip in every if type_ is None or (whip.type or "").casefold() == type_.casefold()]
    labels = [whip.label for whip in wanted]
    own = set(labels)
    ratings: dict[Quality, Array] = {}
    levels: dict[Quality, Array] = {}
    agreed: dict[Quality, Agreement] = {}
    for quality in QUALITIES:
        scores = numbers[quality]
        raters = raters_of(scores)
        asked = [score for score in scores if score.whip in own]
        compared = [one for one in words[quality] if one.whip in own]
        beside = standardised(scores, raters) if compared else {}
        ratings[quality] = _column(labels, standardised(asked, raters, compared, beside))
        levels[quality] = _column(labels, _means(asked))
        found = agreement(by_rater(asked, raters))
        if found is not None:
            agreed[quality] = found
    return Rated(
        whips=tuple(wanted),
        ratings=ratings,
        levels=levels,
        numbers=_numbers(wanted, _running(every)),
        groups={
            "maker": tuple(whip.maker for whip in wanted),
            "type": tuple(whip.type for whip in wanted),
            "fall": tuple(_fitted(whip, "fall") for whip in wanted),
            "cracker": tuple(_fitted(whip, "cracker") for whip in wanted),
        },
        agreement=agreed,
        raters=len({_rater(whip, one) for whip in wanted for one in whip.ratings}),
        sessions=sum(len(whip.ratings) for whip in wanted),
    )


def _scores(whip: Whip, quality: Quality) -> list[Score]:
    """What was given; "not tried" is no score."""
    return [
        Score(whip.label, _rater(whip, one), float(value))
        for one in whip.ratings
        if isinstance(value := one.scores.get(quality), int | float)
    ]


def _comparisons(whip: Whip, quality: Quality) -> list[Comparison]:
    return [
        Comparison(whip.label, one.compared_with, str(word))
        for one in whip.ratings
        if one.compared_with is not None and (word := one.scores.get(quality)) in COMPARISONS
    ]


def _judged(scores: Sequence[Score], comparisons: Sequence[Comparison]) -> set[str]:
    """Labels of whips that have a rating in numbers, or a comparison with one that has."""
    scored = {one.whip for one in scores}
    return scored | {one.whip for one in comparisons if one.beside in scored}


def _rater(whip: Whip, session: RatingSession) -> str:
    return session.by or whip.maker or OWN


def _means(scores: Sequence[Score]) -> dict[str, float]:
    found: dict[str, list[float]] = defaultdict(list)
    for score in scores:
        found[score.whip].append(score.value)
    return {whip: fmean(values) for whip, values in found.items()}


def _column(labels: Sequence[str], values: Mapping[str, float]) -> Array:
    return np.array([values.get(label, np.nan) for label in labels], dtype=np.float64)


def _running(whips: Sequence[Whip]) -> dict[str, float]:
    """By label the place of a whip among those of its maker, by build number, else by the day it was made."""
    found: dict[str, float] = {}
    for maker in {whip.maker for whip in whips} - {None}:
        own = [whip for whip in whips if whip.maker == maker]
        numbered = [whip for whip in own if whip.build_number is not None]
        dated = [whip for whip in own if whip.made_on is not None]
        if len(numbered) >= len(dated):
            found |= {whip.label: float(whip.build_number or 0) for whip in numbered}
        else:
            ordered = sorted(dated, key=lambda whip: (str(whip.made_on), whip.label))
            found |= {whip.label: float(place) for place, whip in enumerate(ordered, start=1)}
    return found


def _numbers(whips: Sequence[Whip], running: Mapping[str, float]) -> dict[str, Array]:
    hours = {
        whip.label: float(np.mean(used))
        for whip in whips
        if (used := [one.hours_of_use for one in whip.ratings if one.hours_of_use is not None])
    }
    weights = {
        whip.label: one.weight_g for whip in whips for one in whip.weights[::-1] if one.after_layer is None
    }
    labels = [whip.label for whip in whips]
    return {
        "build_number": _column(labels, running),
        "length_mm": _column(labels, {x.label: x.thong_length_mm for x in whips if x.thong_length_mm}),
        "weight_g": _column(labels, weights),
        "hours_of_use": _column(labels, hours),
    }


def _fitted(whip: Whip, part: str) -> str | None:
    """The fall or cracker that was fitted most often when it was judged, else the one noted with the whip."""
    noted: list[str] = [word for one in whip.ratings if (word := getattr(one, part)) is not None]
    own: str | None = getattr(whip, part)
    return Counter(noted).most_common(1)[0][0] if noted else own
