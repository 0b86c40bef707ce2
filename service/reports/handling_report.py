"""What goes with good ratings, as data for a page: words first, then the figures, then the pictures."""

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class AssociationRow:
    """One parameter against one quality; ``rho`` None where it cannot be told, ``why`` then says why.

    title, quality : in words, as are p, q, partial and bend, each with its figure. claimed : whether it is
    more than chance would give, at the rate of false discoveries that the report states.
    """

    title: str
    quality: str
    n: int
    rho: float | None
    low_95: float | None
    high_95: float | None
    p: str
    q: str
    partial: str
    bend: str
    claimed: bool
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedPoint:
    """One whip in a scatter: the value of a parameter, its rating (standardised within the rater)."""

    label: str
    value: float
    rating: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """A parameter, with its unit, against a quality."""

    parameter: str
    quality: str
    points: tuple[NamedPoint, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of the answer: its name and its sentences."""

    title: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HandlingReport:
    """asked : the question in words. words : the answer, the first sentence leading. rests_on : of what.

    price : what looking at so many pairs costs in false discoveries. parts : what few whips say, the joint
    model, what to aim for, what to try next, and what else there is to know, those that have anything to say.
    """

    asked: str
    words: tuple[str, ...]
    made_at: dt.datetime
    rests_on: str
    price: str
    rows: tuple[AssociationRow, ...]
    scatters: tuple[Scatter, ...]
    parts: tuple[Part, ...]
    caution: str
