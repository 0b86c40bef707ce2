"""The answer in sentences: what leads, then part by part what else there is to say."""

from collections.abc import Iterator

from plaitlog.models.handling.agreement import Agreement
from plaitlog.service.reports.handling_report import Part
from plaitlog.service.usecases.handling.answer import Answer
from plaitlog.service.usecases.handling.words import leading, spoken, whips_of
from plaitlog.service.usecases.shown_units import ShownUnits


def asked(found: Answer) -> str:
    """The question in words."""
    whips = "whips" if found.question.type is None else f"{found.question.type}s"
    names = " and ".join(spoken(quality) for quality in found.question.qualities)
    what = "good ratings" if len(found.question.qualities) > 2 else f"good {names}"
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
        Part(title="What explains it, and what cannot be concluded", sentences=tuple(_cannot(found))),
        Part(title="How far raters agree", sentences=tuple(_agreement(found))),
    ]
    return [part for part in told if part.sentences]


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
