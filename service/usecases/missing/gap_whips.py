"""Gaps about whips: readings that want a fact, readings on places noted roughly, makers with one whip."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence

from plaitlog.models.calibration.gain import Trial
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.counted import counted
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.usecases.missing.facts import Fact
from plaitlog.service.usecases.missing.gap_candidate import Candidate
from plaitlog.service.usecases.missing.gap_targets import Target
from plaitlog.service.usecases.missing.layer_facts import DropPlace, record_facts
from plaitlog.service.usecases.missing.usability import is_rough, listed
from plaitlog.service.usecases.missing.wanting import wants
from plaitlog.service.usecases.observing import observation
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.shown_units import ShownUnits

READ = 5
"""Readings along another whip of a maker who has one."""


def facts_to_look_up(whip: Whip, cords: Mapping[str, Cord]) -> list[Candidate]:
    """What would make readings of a placed whip usable, or exact."""
    known = [_observed(whip, number, cords) for number in range(len(whip.readings))]
    bundles: dict[tuple[str, ...], tuple[Fact, ...]] = {}
    for reading, seen in zip(whip.readings, known, strict=True):
        facts = wants(whip, reading, cords) if seen is None else None
        if facts:
            bundles.setdefault(tuple(fact.key for fact in facts), facts)
    found = [_freed(whip, facts, known, cords) for facts in bundles.values()]
    if any(seen is not None and is_rough(seen.stack) for seen in known):
        places = [fact for fact in record_facts(whip) if isinstance(fact, DropPlace)]
        found += [_sharpened(whip, fact, known, cords) for fact in places]
    return [each for each in found if each is not None]


def _observed(whip: Whip, number: int, cords: Mapping[str, Cord]) -> Observation | None:
    try:
        return observation(whip, whip.readings[number], cords)
    except StackNotKnownError:
        return None


def _freed(
    whip: Whip, facts: tuple[Fact, ...], known: Sequence[Observation | None], cords: Mapping[str, Cord]
) -> Candidate | None:
    after = placed(likeliest(whip, facts, cords))
    new = [
        seen
        for number, was in enumerate(known)
        if was is None and (seen := _observed(after, number, cords)) is not None
    ]
    if not new:
        return None
    it = "it" if len(facts) == 1 else "them"

    def what(shown: ShownUnits) -> str:
        return (
            f"{whip.label}: {listed([fact.words(shown) for fact in facts])}, "
            f"for {counted(len(new), 'reading')} that no fit can use"
        )

    return Candidate(
        kind="whip",
        about=whip.label,
        what=what,
        do=_said(f"look {it} up, or see on the whip, and add {it} to the record"),
        concerns=_sharing(new),
        trial=Trial(tuple(new)),
        readings=len(new),
        facts=len(facts),
    )


def _sharpened(
    whip: Whip, fact: Fact, known: Sequence[Observation | None], cords: Mapping[str, Cord]
) -> Candidate | None:
    after = placed(likeliest(whip, (fact,), cords))
    pairs = [
        (was, now)
        for number, was in enumerate(known)
        if was is not None
        and is_rough(was.stack)
        and (now := _observed(after, number, cords)) is not None
        and now.stack != was.stack
    ]
    if not pairs:
        return None

    def what(shown: ShownUnits) -> str:
        return f"{whip.label}: {fact.words(shown)}, noted roughly, under {counted(len(pairs), 'reading')}"

    return Candidate(
        kind="place",
        about=whip.label,
        what=what,
        do=_said("measure the place on the whip and note it exactly"),
        concerns=_sharing([now for _, now in pairs]),
        trial=Trial(tuple(now for _, now in pairs), tuple(was for was, _ in pairs)),
        readings=len(pairs),
    )


def likeliest(whip: Whip, facts: Sequence[Fact], cords: Mapping[str, Cord]) -> Whip:
    """The record with the facts as they turn out in the middle of what is likely."""
    for fact in facts:
        likely = fact.likely(whip, cords)
        whip = likely[len(likely) // 2]
    return whip


def other_whips(measured: Counter[str], found: Sequence[Target]) -> list[Candidate]:
    """Another whip, read at five places, by each maker of whom one whip is measured."""
    candidates = []
    for maker, whips in sorted(measured.items()):
        theirs = [target.query for target in found if target.query.maker == maker][:READ]
        if whips != 1 or not theirs:
            continue
        readings = tuple(
            Observation(stack=x.stack, diameter_mm=10.0, whip="another", maker=maker, at_mm=x.at_mm)
            for x in theirs
        )
        candidates.append(
            Candidate(
                kind="maker",
                about=maker,
                what=_said(f"{maker}: one whip is measured"),
                do=_said(f"take {READ} readings along another whip of {maker}'s"),
                concerns=_made_by(maker),
                trial=Trial(readings),
            )
        )
    return candidates


def _said(text: str) -> Callable[[ShownUnits], str]:
    return lambda shown: text


def _sharing(readings: Sequence[Observation]) -> Callable[[Target], bool]:
    names = {cord.name for reading in readings for cord in reading.stack.cords}
    return lambda target: bool(names & target.cords)


def _made_by(maker: str) -> Callable[[Target], bool]:
    return lambda target: target.query.maker == maker
