"""Workshops for property tests: cords, stock and whips with everything that can be noted of them."""

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any

from hypothesis import strategies as st

from plaitlog.models.whip import (
    COMPARISONS,
    CONDITIONS,
    CONSTRUCTIONS,
    DATUMS,
    FEELS,
    NONE,
    NOT_TRIED,
    QUALITIES,
    STATUSES,
    Balance,
    Cord,
    CordStock,
    CordUse,
    Foundation,
    Layer,
    LayerCord,
    RatingSession,
    Reading,
    TurnLength,
    Weight,
    Whip,
)
from tests.unit.schedules import CORDS, FATES, POINT_MM, schedules

POINT = POINT_MM
# Any text a database can hold; a name is not blank at its ends.
texts = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=20)
names = texts.map(str.strip).filter(bool)
sizes = st.floats(0.01, 190.0) | st.integers(1, 60).map(float) | st.sampled_from([0.1, 4.45, 12.7, 11.9888])
stations = st.floats(0, POINT) | st.integers(0, int(POINT)).map(float)
amounts = st.floats(0, 500) | st.integers(0, 300).map(float)
days = st.dates(dt.date(1970, 1, 1), dt.date(2026, 1, 1))


def maybe(values: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | values


@dataclass(frozen=True)
class Workshop:
    makers: tuple[str, ...]
    cords: tuple[Cord, ...]
    stock: tuple[CordStock, ...]
    whips: tuple[Whip, ...]


@st.composite
def cord(draw: st.DrawFn, name: str) -> Cord:
    typed = draw(st.sampled_from([(None, {}), (3.175, {"diameter": "1/8 in"}), (4.0, {"diameter": "4 mm"})]))
    return Cord(
        name=name,
        material=draw(names),
        construction=draw(st.sampled_from(CONSTRUCTIONS)),
        diameter_mm=typed[0] or draw(maybe(sizes)),
        pressed_mm=draw(maybe(sizes)),
        flat_width_mm=draw(maybe(sizes)),
        linear_density_g_per_m=draw(maybe(sizes)),
        fibre_density_g_per_cm3=draw(maybe(st.floats(0.5, 12))),
        supplier=draw(maybe(texts)),
        price_per_m=draw(maybe(amounts)),
        notes=draw(maybe(texts)),
        typed=typed[1],
    )


@st.composite
def plaited(draw: st.DrawFn, cords: tuple[LayerCord, ...]) -> Layer:
    picked = draw(st.lists(st.sampled_from(cords), min_size=0, max_size=2, unique=True))
    schedule, fate = draw(schedules(max(len(picked), 1)))
    if draw(st.integers(0, 9)) == 0:
        schedule = None
    shares = draw(st.sampled_from([(1.0, 1.0), (8.0, 8.0), (2.0, 1.0), (8.0, 4.0)]))
    return Layer(
        role=draw(st.sampled_from(["core", "belly", "overlay"])),
        cords=tuple(
            replace(each, share=share, lot=draw(maybe(texts)))
            for each, share in zip(picked, shares, strict=False)
        ),
        schedule=schedule,
        fate=draw(maybe(st.sampled_from(FATES))) if schedule is None else fate,
        notes=draw(maybe(texts)),
    )


given_layers = st.builds(
    Layer,
    role=st.sampled_from(["core", "bolster", "binding"]),
    thickness_mm=sizes,
    from_mm=maybe(stations),
    to_mm=st.just(POINT),
    what=maybe(texts),
)
readings = st.builds(
    Reading,
    at_mm=stations,
    diameter_mm=sizes,
    condition=maybe(st.sampled_from(CONDITIONS)),
    doubtful=st.booleans(),
    on=maybe(days),
    notes=maybe(texts),
) | st.sampled_from(
    [
        Reading(at_mm=304.8, girth_mm=47.5, tape_mm=0.3, typed={"at": "12 in"}),
        Reading(at_mm=300.0, diameter_mm=11.9888, typed={"diameter": "0.472 in"}),
        Reading(at_mm=0.0, place="thick", diameter_mm=14.0),
        Reading(at_mm=POINT, place="point", girth_mm=20.0),
    ]
)
words = maybe(st.just(NONE) | st.lists(names, max_size=3).map(tuple))
weights = st.lists(st.builds(Weight, weight_g=sizes, with_parts=words), max_size=3).map(tuple)
scores = st.dictionaries(
    st.sampled_from(QUALITIES), st.just(NOT_TRIED) | st.integers(1, 10).map(float) | st.floats(1, 10)
)
sessions = st.builds(
    RatingSession,
    by=maybe(names),
    on=maybe(days),
    hours_of_use=maybe(amounts),
    fall=maybe(texts),
    scores=scores,
    feel=st.dictionaries(st.sampled_from(FEELS), st.integers(-2, 2).map(float)),
    notes=maybe(texts),
)


@st.composite
def kept_plans(draw: st.DrawFn, cords: tuple[LayerCord, ...]) -> dict[str, Any]:
    """The document of a plan as it is stored."""
    drops = [[0, draw(st.integers(8, 24))], [draw(st.sampled_from([310, 482.6])), 8]]
    overlay = {"role": "overlay", "cord": draw(st.sampled_from(cords)).cord, "strands": drops, "fate": "cut"}
    station = {"at_mm": 0, "diameter_mm": 14.2, "low_90_mm": 13.5, "high_90_mm": 15}
    inner = {"at_mm": 0, "after_layer": 1, **{key: station[key] for key in list(station)[1:]}}
    plan = {"spec": {"label": draw(texts), "target": {"taper": "even"}}, "layers": [overlay]}
    if draw(st.booleans()):
        plan = {"fit": 3, "rests_on": "fit 3", "layers": [overlay]}
    plan["stations"] = draw(st.sampled_from([[], [station], [station, inner]]))
    return {**plan, **draw(st.sampled_from([{}, {"weight_g": 412.5, "hours": 9}]))}


@st.composite
def whip(draw: st.DrawFn, label: str, makers: tuple[str, ...], cords: tuple[LayerCord, ...]) -> Whip:
    """A whip with its point at one place, so that every schedule and reading fits."""
    layers = draw(st.lists(plaited(cords) | given_layers, max_size=3))
    foundation = st.builds(Foundation, diameter_mm=sizes, to_mm=maybe(stations), material=maybe(texts))
    ratings = draw(
        st.lists(sessions, max_size=3, unique_by=lambda x: (x.by, x.on, x.hours_of_use)).map(tuple)
    )
    return Whip(
        label=label,
        maker=draw(maybe(st.sampled_from(makers))) if makers else None,
        type=draw(maybe(st.sampled_from(["bullwhip", "stock whip"]) | texts)),
        status=draw(maybe(st.sampled_from(STATUSES))),
        made_on=draw(maybe(days)),
        build_number=draw(maybe(st.integers(0, 2**31 - 1))),
        datum=draw(st.sampled_from([None, DATUMS[0]])),
        thong_length_mm=POINT,
        quoted_length=draw(maybe(texts)),
        handle_length_mm=draw(maybe(stations)),
        handle_diameter_mm=draw(maybe(sizes)),
        foundation=draw(maybe(st.just(NONE) | foundation)),
        layers=tuple(layers),
        layers_complete=draw(maybe(st.booleans())),
        readings=draw(st.lists(readings, max_size=6).map(tuple)),
        turn_lengths=draw(
            st.lists(st.builds(TurnLength, at_mm=stations, turn_mm=sizes), max_size=2).map(tuple)
        ),
        finish=draw(words),
        weights=draw(weights),
        balance=draw(
            maybe(st.builds(Balance, at_mm=stations, counted_from=st.sampled_from(DATUMS), how=maybe(texts)))
        ),
        hours=draw(maybe(amounts)),
        cord_used=draw(
            st.lists(
                st.builds(CordUse, st.sampled_from([each.cord for each in cords]), st.floats(0.1, 400)),
                max_size=2,
            ).map(tuple)
        ),
        fall=draw(maybe(st.just(NONE) | texts)),
        cracker=draw(maybe(st.just(NONE) | texts)),
        ratings=ratings,
        plan=draw(maybe(kept_plans(cords))),
        notes=draw(maybe(texts)),
    )


@st.composite
def workshops(draw: st.DrawFn) -> Workshop:
    makers = tuple(draw(st.lists(names, max_size=2, unique=True)))
    cords = tuple(draw(cord(each.cord)) for each in CORDS)
    stock = draw(
        st.lists(
            st.builds(
                CordStock,
                cord=st.sampled_from([each.cord for each in CORDS]),
                colour=maybe(texts),
                lot=maybe(texts),
                metres=maybe(amounts),
            ),
            max_size=3,
            unique_by=lambda x: (x.cord, x.colour, x.lot),
        )
    )
    labels = draw(st.lists(names, min_size=1, max_size=3, unique=True))
    whips = [draw(whip(label, makers, CORDS)) for label in labels]
    return Workshop(makers, cords, tuple(stock), tuple(draw(compared(one, labels)) for one in whips))


@st.composite
def compared(draw: st.DrawFn, one: Whip, labels: list[str]) -> Whip:
    """The whip with some of its sessions beside other whips, whichever stands first."""
    others = [label for label in labels if label != one.label]
    if not others:
        return one
    verdicts = st.dictionaries(st.sampled_from(QUALITIES), st.sampled_from(COMPARISONS))
    return replace(
        one,
        ratings=tuple(
            replace(x, compared_with=draw(st.sampled_from(others)), scores={**x.scores, **draw(verdicts)})
            if draw(st.booleans())
            else x
            for x in one.ratings
        ),
    )
