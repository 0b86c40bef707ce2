"""The answer as data for other programs."""

from dataclasses import asdict
from typing import Any

from plaitlog.models.handling.associations import Association
from plaitlog.models.handling.contrast import Contrast
from plaitlog.service.usecases.handling.answer import Answer
from plaitlog.service.usecases.handling.answer_words import summary
from plaitlog.service.usecases.handling.words import NOT_CAUSE, price
from plaitlog.service.usecases.shown_units import ShownUnits


def to_json(found: Answer, shown: ShownUnits) -> dict[str, Any]:
    """Everything; parameters in the unit that their names end in."""
    return {
        "summary": " ".join(summary(found, shown)),
        "caution": NOT_CAUSE,
        "qualities": list(found.question.qualities),
        "type": found.question.type,
        "whips": len(found.study.labels),
        "raters": found.rated.raters,
        "sessions": found.rated.sessions,
        "rests_on": found.in_force.rests_on,
        "family": found.associations.family,
        "false_discoveries": found.associations.false_discoveries,
        "price": price(found.associations),
        "associations": [
            _association(one, found.question.type)
            for quality in found.question.qualities
            for one in found.associations.ranked(quality)
        ],
        "contrasts": [_contrast(one) for one in found.contrasts],
        "joint": _joint(found),
        "aim": {
            "regions": [{**asdict(one), "stands_out": one.stands_out} for one in found.regions],
            "nearest": [asdict(one) for one in found.nearest],
        },
        "next": {"candidates": [asdict(one) for one in found.next]},
        "agreement": {quality: asdict(one) for quality, one in found.rated.agreement.items()},
        "findings": [asdict(one) for one in (*found.associations.findings, *found.findings)],
    }


def _joint(found: Answer) -> dict[str, Any] | None:
    joint = found.joint
    if joint is None:
        return None
    return {
        "n": joint.n,
        "better": joint.better,
        "usual": joint.usual,
        "score": joint.score,
        "usual_score": joint.usual_score,
        "gain": joint.gain,
        "se": joint.se,
        "slopes": [asdict(one) for one in joint.slopes],
    }


def _association(one: Association, type_: str | None) -> dict[str, Any]:
    return {
        "parameter": one.parameter,
        "alike": list(one.alike),
        "quality": one.quality,
        "type": type_,
        "n": one.n,
        "rho": one.rho,
        "low_95": one.low_95,
        "high_95": one.high_95,
        "p": one.p,
        "q": one.q,
        "partial_rho": one.partial_rho,
        "partial_p": one.partial_p,
        "partial_on": list(one.partial_on),
        "bend_p": one.bend_p,
        "bend_q": one.bend_q,
        "bend": one.bend,
        "bend_at": one.bend_at,
        "claimed": one.claimed,
        "bend_claimed": one.bend_claimed,
        "findings": [asdict(finding) for finding in one.findings],
    }


def _contrast(one: Contrast) -> dict[str, Any]:
    return {
        "quality": one.quality,
        "rated": one.rated,
        "best": list(one.best),
        "worst": list(one.worst),
        "differences": [asdict(each) for each in one.differences],
    }
