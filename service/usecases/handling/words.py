"""The answer to "what goes with good ratings?" in words, the sentence that matters first."""

from collections.abc import Iterator
from typing import Final

from plaitlog.models.handling.associations import Association, Associations
from plaitlog.models.handling.contrast import ENOUGH, Contrast
from plaitlog.models.handling.definitions import BY_NAME
from plaitlog.models.handling.spoken import listed, spoken
from plaitlog.service.usecases.handling.parameter_values import said
from plaitlog.service.usecases.shown_units import ShownUnits

SMALLEST_TOLD: Final = 1e-6
"""p and q below it are not told apart."""
NOT_CAUSE: Final = (
    "What goes together among one maker's whips is not yet cause: skill, cord and taste change with shape."
)


def titles(one: Association) -> str:
    """The title of a parameter, with those that count as one with it in brackets."""
    name = spoken(one.parameter)
    return f"{name} (and {listed(one.alike)})" if one.alike else name


def whips_of(type_: str | None, n: int) -> str:
    """Three stock whips; one whip."""
    what = "whip" if type_ is None else type_
    return f"{n} {what}" if n == 1 else f"{n} {what}s"


def leading(
    found: Associations, quality: str, contrast: Contrast, type_: str | None, shown: ShownUnits
) -> Iterator[str]:
    """What may be claimed of one quality; below fifteen rated whips the best beside the worst lead."""
    asked = [one for one in found.associations if one.quality == quality]
    claimed = [one for one in found.ranked(quality) if one.claimed or one.bend_claimed]
    if contrast.rated < ENOUGH:
        yield (
            f"Only {whips_of(type_, contrast.rated)} {'is' if contrast.rated == 1 else 'are'} rated for "
            f"{spoken(quality)}, too few to lean on a statistic: look at the best beside the worst."
        )
        yield from contrast_sentences(contrast, shown)
    if claimed:
        for one in claimed:
            yield _claim(one, type_, shown)
        return
    told = [one for one in asked if one.rho is not None]
    rate = f"{100 * found.false_discoveries:.0f} %"
    if not told:
        yield f"Nothing can be said of {spoken(quality)}: no parameter is known of enough rated whips."
        return
    most = max(one.n for one in told)
    yield (
        f"Nothing can be claimed: over {whips_of(type_, most)} no parameter goes with {spoken(quality)} "
        f"beyond what chance alone would give (at most {rate} false claims)."
    )
    nearest = found.ranked(quality)[0]
    yield f"Nearest to a claim: {spoken(nearest.parameter)}, {_figures(nearest)}."


def _claim(one: Association, type_: str | None, shown: ShownUnits) -> str:
    quality, what = spoken(one.quality).capitalize(), titles(one)
    if one.claimed:
        word = "a greater" if (one.rho or 0.0) > 0 else "a smaller"
        return (
            f"{quality} goes with {word} {what}, {_says(one.parameter)}: {_figures(one)}, over "
            f"{whips_of(type_, one.n)}."
        )
    where = "" if one.bend_at is None else f", near {said(one.parameter, one.bend_at, shown)}"
    return (
        f"{quality} is {one.bend or 'bent'} of {what}, {_says(one.parameter)}{where}: bend "
        f"p {p_text(one.bend_p)}, over {whips_of(type_, one.n)}."
    )


def _says(parameter: str) -> str:
    known = BY_NAME.get(parameter)
    return "" if known is None else f"that is {known.says}"


def _figures(one: Association) -> str:
    found = f"rank correlation {_signed(one.rho)}"
    if one.low_95 is not None:
        found += f" (95 %: {_signed(one.low_95)} to {_signed(one.high_95)})"
    if one.partial_rho is not None and one.partial_on:
        found += f", {_signed(one.partial_rho)} beside {listed(one.partial_on)}"
    return f"{found}, q {p_text(one.q)}"


def contrast_sentences(contrast: Contrast, shown: ShownUnits) -> Iterator[str]:
    """The best beside the worst, and in what they differ most."""
    if contrast.best:
        yield f"Best: {', '.join(contrast.best)}. Worst: {', '.join(contrast.worst)}."
    for one in contrast.differences[:3]:
        word = "greater" if one.in_spreads > 0 else "smaller"
        yield (
            f"The best have a {word} {spoken(one.parameter)}: on average "
            f"{said(one.parameter, one.best, shown)} against {said(one.parameter, one.worst, shown)} "
            f"({abs(one.in_spreads):.1f} spreads)."
        )
    for finding in contrast.findings:
        yield f"{finding.text[:1].upper()}{finding.text[1:]}."


HEADS: Final = ("parameter", "whips", "rank", "95 %", "p", "q", "beside the rest", "bend")


def cells(one: Association) -> tuple[str, ...]:
    """One pair in a row of the table ``HEADS``; a star marks what is claimed."""
    star = " *" if one.claimed or one.bend_claimed else ""
    told = one.low_95 is not None
    why = next((finding.text for finding in one.findings), "") if one.rho is None else bend_text(one)
    return (
        f"{titles(one)}{star}",
        str(one.n),
        _signed(one.rho),
        f"{_signed(one.low_95)} to {_signed(one.high_95)}" if told else "",
        p_text(one.p),
        p_text(one.q),
        _signed(one.partial_rho),
        why,
    )


def price(found: Associations) -> str:
    """What looking at so many pairs costs."""
    pairs = len(found.associations)
    return (
        f"{pairs} {'pair' if pairs == 1 else 'pairs'} of parameter and quality, {found.family} tests with "
        f"their bends, are one family: at most {100 * found.false_discoveries:.0f} % of what is claimed "
        f"should be false; by chance alone about {0.05 * found.family:.1f} of them would show a p below 0.05."
    )


def p_text(p: float | None) -> str:
    """A p or q value; never 0."""
    if p is None:
        return ""
    if p < SMALLEST_TOLD:
        return f"below {SMALLEST_TOLD:g}"
    return f"{p:.3f}" if p >= 0.0095 else f"{p:.1g}"


def bend_text(one: Association) -> str:
    """What there is to say of a bend, beside its p."""
    if one.bend_p is None:
        return ""
    word = one.bend if one.bend and one.bend_claimed else "none seen"
    return f"{word} (p {p_text(one.bend_p)})"


def _signed(number: float | None) -> str:
    return "" if number is None else f"{number:+.2f}"
