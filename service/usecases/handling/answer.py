"""What goes with good ratings: the question, and everything that is told in answer to it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from sqlalchemy import exists, or_, select
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError, nearest_or
from plaitlog.models.handling.aim import Near, Region, nearest, regions
from plaitlog.models.handling.associations import HEADLINE, Associations, associate
from plaitlog.models.handling.contrast import Contrast, contrast
from plaitlog.models.handling.definitions import DEFINITIONS
from plaitlog.models.handling.joint import Joint, fit_joint
from plaitlog.models.handling.next_whip import Candidate, rank_candidates
from plaitlog.models.handling.study import Array, Study
from plaitlog.models.tables import RatingSessionRow, WhipRow
from plaitlog.models.whip import QUALITIES, Quality, Whip
from plaitlog.service.usecases.handling.parameters import TaperParameters, all_parameters, parameters_of
from plaitlog.service.usecases.handling.rated import Rated, rated
from plaitlog.service.usecases.loading import in_parts, load_whips
from plaitlog.service.usecases.predicting import InForce, fit_in_force
from plaitlog.service.usecases.workshop import cords_by_name

Progress = Callable[[str, int, int], None]
EVERY_PARAMETER: Final = tuple(one.name for one in DEFINITIONS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One quality against the headline parameters, unless everything is asked for.

    qualities : at least one. type : of the whips, None for all. everything : every parameter instead of the
    headline ones. like : a whip, recorded or planned, for which the nearest rated ones are wanted.
    candidates : whips of which the one is wanted that would teach most.
    """

    qualities: tuple[Quality, ...] = ("overall",)
    type: str | None = None
    everything: bool = False
    like: Whip | None = None
    candidates: tuple[Whip, ...] = ()

    @property
    def parameters(self) -> tuple[str, ...]:
        return EVERY_PARAMETER if self.everything else HEADLINE


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """study : what it was worked out from; parameters : of each whip. findings : of the answer as a whole.

    joint, regions, nearest, next : of one quality; none where several are asked about.
    """

    question: Question
    in_force: InForce
    rated: Rated
    study: Study
    parameters: tuple[TaperParameters, ...]
    associations: Associations
    contrasts: tuple[Contrast, ...]
    joint: Joint | None
    regions: tuple[Region, ...]
    nearest: tuple[Near, ...]
    next: tuple[Candidate, ...]
    findings: tuple[Finding, ...]


def qualities_meant(typed: Sequence[str]) -> tuple[Quality, ...]:
    """The qualities of words such as "roll-out"; InputError with the nearest for one that is none."""
    found: list[Quality] = []
    for word in typed:
        meant = word.strip().lower().replace("-", "_").replace(" ", "_")
        known = next((quality for quality in QUALITIES if quality == meant), None)
        if known is None:
            words = [quality.replace("_", "-") for quality in QUALITIES]
            remedy = nearest_or(word, words, f"known are {', '.join(words)}")
            raise InputError(Finding("unknown-quality", f"{word!r} is no quality", remedy, "quality"))
        found.append(known)
    return tuple(dict.fromkeys(found))


def handling(
    session: Session,
    question: Question,
    *,
    draws: int = 10_000,
    resamples: int = 2_000,
    progress: Progress = lambda what, done, of: None,
) -> Answer:
    """Everything there is to say in answer to a question, from the whips that were rated.

    progress : called with what is at work, how much of it is done, of how much.

    Raises
    ------
    InputError
        Where no whip of that type is rated, naming the types there are.
    """
    whips = _whips_with_ratings(session)
    found = rated(whips, question.type)
    if not found.whips:
        raise InputError(_nothing_rated(whips, question.type))
    in_force, cords = fit_in_force(session), cords_by_name(session)
    number = len(found.whips)
    parameters = all_parameters(
        in_force, found.whips, cords, lambda done: progress("taper parameters", done, number)
    )
    study = study_of(found, parameters)
    associations = associate(
        study,
        question.qualities,
        [name for name in question.parameters if name in study.parameters],
        draws=draws,
        resamples=resamples,
        progress=lambda done, of: progress("correlations", done, of),
    )
    only = question.qualities[0] if len(question.qualities) == 1 else None
    progress("all parameters at once", 0, 1)
    joint = None if only is None else fit_joint(study, only)
    values = {one.label: _values(one) for one in all_parameters(in_force, question.candidates, cords)}
    like = question.like
    progress("all parameters at once", 1, 1)
    return Answer(
        question=question,
        in_force=in_force,
        rated=found,
        study=study,
        parameters=tuple(parameters),
        associations=associations,
        contrasts=tuple(contrast(study, quality) for quality in question.qualities),
        joint=joint,
        regions=() if only is None else regions(study, only),
        nearest=()
        if only is None or like is None
        else nearest(study, only, _values(parameters_of(in_force, like, cords)), without=like.label),
        next=() if joint is None or not values else rank_candidates(joint, values),
        findings=(*in_force.findings, *_about_parameters(parameters)),
    )


def study_of(found: Rated, parameters: Sequence[TaperParameters]) -> Study:
    """Rated whips with their taper parameters in columns; all that are defined, known or not."""
    values = {name: _column(parameters, name, "value") for name in EVERY_PARAMETER}
    return Study(
        labels=tuple(whip.label for whip in found.whips),
        parameters=values,
        parameter_sds={name: _column(parameters, name, "sd") for name in EVERY_PARAMETER},
        ratings={str(quality): column for quality, column in found.ratings.items()},
        levels={str(quality): column for quality, column in found.levels.items()},
        numbers=found.numbers,
        groups=found.groups,
    )


def _values(one: TaperParameters) -> dict[str, float]:
    return {name: estimate.value for name, estimate in one.parameters.items()}


def _column(parameters: Sequence[TaperParameters], name: str, part: str) -> Array:
    known = [one.parameters.get(name) for one in parameters]
    return np.array([np.nan if one is None else getattr(one, part) for one in known], dtype=np.float64)


def _whips_with_ratings(session: Session) -> list[Whip]:
    made = or_(WhipRow.status.is_(None), WhipRow.status != "planned")
    judged = exists().where(RatingSessionRow.whip_id == WhipRow.id)
    keys = session.scalars(select(WhipRow.id).where(made, judged).order_by(WhipRow.id))
    return [whip for part in in_parts(keys) for whip in load_whips(session, part).values()]


def _nothing_rated(whips: Sequence[Whip], type_: str | None) -> Finding:
    if not whips:
        return Finding("nothing-rated", "no whip is rated yet", "rate whips: record, or ratings in a file")
    types = sorted({whip.type for whip in whips if whip.type})
    remedy = nearest_or(type_ or "", types, f"rated are {', '.join(types) or 'whips without a type'}")
    return Finding("nothing-rated", f"no {type_} is rated", remedy, "type")


def _about_parameters(parameters: Sequence[TaperParameters]) -> list[Finding]:
    predicted = sum(one.predicted_from is not None for one in parameters)
    if not predicted:
        return []
    text = f"of {predicted} of {len(parameters)} whips some taper parameters are only predicted"
    return [Finding("predicted-parameters", text, "measure at six stations or more")]
