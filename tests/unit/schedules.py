"""Strand schedules for property tests: everything a maker can note, in places that a unit can say."""

from dataclasses import replace
from fractions import Fraction

from hypothesis import strategies as st

from plaitlog.models.whip import Fate, LayerCord, Place, Span, Step, StrandSchedule

POINT_MM = 2400.0
ABOUT_MM = Fraction(25)
CORDS = (
    LayerCord("Ridge 4 mm", letter="A"),
    LayerCord("Fell 3 mm", letter="B"),
    LayerCord("Moor 5 mm", letter="C"),
)
PER_UNIT = {"mm": Fraction(1), "cm": Fraction(10), "in": Fraction(254, 10)}
FATES = (
    Fate("cut"),
    Fate("tuck"),
    Fate("tuck", 76.2),
    Fate("tuck", 80.0, gutted=True),
    Fate("run"),
    Fate("run", gutted=True),
    Fate("run", until_mm=1200.0),
    Fate("run", gutted=True, until_mm=1219.2),
)

counts = st.integers(0, 24).map(lambda n: Span(n, n)) | st.tuples(st.integers(0, 12), st.integers(0, 12)).map(
    lambda pair: Span(min(pair), max(pair))
)
patterns = st.none() | st.lists(
    st.tuples(st.sampled_from("uo"), st.integers(1, 6)), min_size=1, max_size=4
).map(lambda passes: "".join(f"{way}{n}" for way, n in passes))


@st.composite
def _places(draw: st.DrawFn, count: int) -> list[Place]:
    """Places in order, each a number of sixteenths of an inch, of millimetres, or any float."""
    grain = draw(st.sampled_from([Fraction(254, 160), Fraction(1), Fraction(1, 10), Fraction(254, 10)]))
    spacing = draw(st.integers(1, 40)) if draw(st.booleans()) else 0
    at = draw(st.integers(0, 60)) if draw(st.booleans()) else 0
    found: list[Place] = []
    for _ in range(count):
        kind = draw(st.sampled_from(["at", "at", "at", "about", "between", "not noted"]))
        high = at + (draw(st.integers(1, 30)) if kind == "between" else 0)
        low_mm, high_mm = float(at * grain), float(high * grain)
        if kind == "about":
            middle = at * grain
            place = Place(float(max(middle - ABOUT_MM, Fraction(0))), float(middle + ABOUT_MM), "about")
        else:
            place = Place(low_mm, high_mm, kind)
        noted = [one for one in found if one.kind != "not noted"]
        if noted and kind != "not noted" and not place.follows(noted[-1]):
            place = Place(low_mm, high_mm, "not noted")
        found.append(place)
        at = high + (spacing or draw(st.integers(1, 40)))
    return _bounded(found)


def _bounded(places: list[Place]) -> list[Place]:
    """A place not noted lies between the noted ones around it."""
    found = list(places)
    for i, place in enumerate(found):
        if place.kind == "not noted":
            low = found[i - 1].low_mm if i else 0.0
            high = next((later.high_mm for later in found[i + 1 :] if later.kind != "not noted"), POINT_MM)
            found[i] = Place(low, max(low, high), "not noted")
    return found


@st.composite
def schedules(draw: st.DrawFn, cords: int = 1) -> tuple[StrandSchedule, Fate | None]:
    """A schedule and the fate of its layer, as the notation gives them back.

    Drops all have one fate (then it is the layer's), or their own; a step that drops nothing has none.
    """
    places = draw(st.integers(1, 7).flatmap(_places))
    even = draw(st.booleans())
    rows: list[tuple[Span, ...]] = [draw(st.tuples(*[counts] * cords))]
    change = draw(st.integers(-3, 2))
    for _ in places[1:]:
        if even or draw(st.booleans()):
            rows.append(tuple(Span(max(c.low + change, 0), max(c.high + change, 0)) for c in rows[-1]))
        else:
            rows.append(draw(st.tuples(*[counts] * cords)))
    steps = [Step(place, row, None, draw(patterns)) for place, row in zip(places, rows, strict=True)]
    drops = [
        i
        for i in range(1, len(steps))
        if any(
            now.low < was.low or now.high < was.high for was, now in zip(rows[i - 1], rows[i], strict=True)
        )
    ]
    fate = draw(st.none() | st.sampled_from(FATES))
    if len(drops) > 1 and draw(st.booleans()):
        own = draw(st.lists(st.none() | st.sampled_from(FATES), min_size=len(drops), max_size=len(drops)))
        if len(set(own)) > 1:
            fate = None
            for i, each in zip(drops, own, strict=True):
                steps[i] = replace(steps[i], fate=each)
    rest = "point" if steps[-1].total.high == 0 else draw(st.sampled_from(["point", "not noted"]))
    return StrandSchedule(tuple(steps), rest), fate
