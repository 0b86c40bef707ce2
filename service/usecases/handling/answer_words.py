"""The answer in sentences: what leads, then part by part what else there is to say."""

import math
from collections.abc import Iterator

from plaitlog.models.handling.agreement import Agreement
from plaitlog.models.handling.aim import Region
from plaitlog.models.handling.joint import FEWEST
from plaitlog.models.handling.spoken import spoken
from plaitlog.service.reports.handling_report import Part
from plaitlog.service.usecases.handling.answer import Answer
from plaitlog.service.usecases.handling.parameter_values import said
from plaitlog.service.usecases.handling.words import leading, p_text, whips_of
from plaitlog.service.usecases.shown_units import ShownUnits


def asked(found: Answer) -> str:
    """The question in words."""
    whips = "whips" if found.question.type is None else f"{found.question.type}s"
    names = " and ".join(spoken(quality) for quality in found.question.qualities)
    every = len(found.question.qualities) > 2 or found.question.qualities == ("overall",)
    what = "good ratings" if every else f"good {names}"
    return f"What goes with {what} in {whips}?"


def summary(found: Answer, shown: ShownUnits) -> list[str]:
    """What leads, quality by quality; of many qualities only what is claimed, or that nothing is."""
    qualities = found.question.qualities
    if len(qualities) == 1:
        return list(leading(found.associations, qualities[0], found.contrasts[0], found.question.type, shown))
    claims = [
        sentence
        for quality, contrast in zip(qualities, found.contrasts, strict=True)
        if any(one.quality == quality for one in found.associations.claimed)
        for sentence in leading(found.associations, quality, contrast, found.question.type, shown)
    ]
    if claims:
        return claims
    number = whips_of(found.question.type, len(found.study.labels))
    return [f"Nothing can be claimed of any quality from {number}: all of it may be chance."]


def parts(found: Answer, shown: ShownUnits) -> list[Part]:
    """What else there is to say, those parts that have anything."""
    told = [
        Part(title="All parameters at once", sentences=tuple(_joint(found))),
        Part(title="What to aim for", sentences=tuple(_aim(found, shown))),
        Part(title="Rated whips most like it", sentences=tuple(_nearest(found))),
        Part(title="What to try next", sentences=tuple(_next(found))),
        Part(title="What explains it, and what cannot be concluded", sentences=tuple(_cannot(found))),
        Part(title="How far raters agree", sentences=tuple(_agreement(found))),
    ]
    return [part for part in told if part.sentences]


def _joint(found: Answer) -> Iterator[str]:
    joint = found.joint
    if joint is None:
        if len(found.question.qualities) == 1:
            yield f"Fewer than {FEWEST} whips are rated, or all alike: nothing is concluded jointly."
        return
    figures = (
        f"ranked probability score of whips left out {joint.score:.2f} against {joint.usual_score:.2f}, less "
        f"is better; difference {joint.gain:+.2f}, standard error {joint.se:.2f}"
    )
    if not joint.better:
        yield (
            f"Taken together the parameters do no better than always saying the usual rating, "
            f"{joint.usual:g} ({figures}): nothing is concluded jointly from "
            f"{whips_of(found.question.type, joint.n)}."
        )
        return
    yield f"Taken together the parameters do better than always saying the usual rating ({figures})."
    for one in sorted(joint.slopes, key=lambda each: -abs(each.value)):
        if one.low_95 > 0 or one.high_95 < 0:
            word = "better" if one.value > 0 else "worse"
            yield (
                f"A spread more of {spoken(one.name)} multiplies the odds of a {word} rating by "
                f"{math.exp(abs(one.value)):.1f} (log odds {one.value:+.2f}, 95 %: {one.low_95:+.2f} to "
                f"{one.high_95:+.2f})."
            )


def _aim(found: Answer, shown: ShownUnits) -> Iterator[str]:
    if not found.regions:
        return
    told = [one for one in found.regions if one.stands_out]
    if not told:
        first = found.regions[0]
        yield (
            f"No region stands out; nearest to it are whips with {spoken(first.parameter)} "
            f"{_between(first, shown)} (p {p_text(first.p)} over all parameters asked about)."
        )
    for one in told:
        yield (
            f"{spoken(one.parameter).capitalize()} {_between(one, shown)}: that third of {one.n} whips rated "
            f"{one.rating:.1f} on average, the rest {one.rest:.1f} (p {p_text(one.p)} over all parameters)."
        )


def _between(one: Region, shown: ShownUnits) -> str:
    return f"{said(one.parameter, one.low, shown)} to {said(one.parameter, one.high, shown)}"


def _nearest(found: Answer) -> Iterator[str]:
    quality = spoken(found.question.qualities[0])
    for one in found.nearest:
        yield f"{one.label}: {quality} {one.rating:.1f}; {one.apart:.1f} spreads apart."


def _next(found: Answer) -> Iterator[str]:
    if found.question.candidates and found.joint is None:
        yield "Too few whips are rated to say which would teach most: any of them does."
    for one in found.next:
        yield (
            f"{one.label}: would take {100 * one.teaches:.0f} % off the uncertainty; expected rating "
            f"{one.expected:.1f}."
        )


def _cannot(found: Answer) -> Iterator[str]:
    """Findings of pairs and of the whole, each once."""
    texts: dict[str, None] = {}
    for one in found.associations.associations:
        for finding in one.findings:
            if finding.code in ("explained-otherwise", "nothing-accounted-for", "half-missing", "not-apart"):
                texts[_sentence(finding.text, finding.remedy)] = None
    for finding in found.associations.findings:
        texts[_sentence(finding.text, finding.remedy)] = None
    yield from texts


def _agreement(found: Answer) -> Iterator[str]:
    for quality in found.question.qualities:
        one: Agreement | None = found.rated.agreement.get(quality)
        if one is not None:
            yield (
                f"{spoken(quality).capitalize()}: intraclass correlation {one.value:.2f} (95 %: "
                f"{one.low_95:.2f} to {one.high_95:.2f}) over {one.whips} whips that several raters judged; "
                "1 is full agreement."
            )


def _sentence(text: str, remedy: str) -> str:
    whole = f"{text}; {remedy}" if remedy else text
    return f"{whole[:1].upper()}{whole[1:]}."
