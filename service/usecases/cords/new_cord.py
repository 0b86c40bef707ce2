"""A cord that is in no whip yet: what it will come out at, while its measurements are still being typed.

Nothing is stored. Every figure is a prediction of the fit in force, with a measurement and without it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from plaitlog.models import units
from plaitlog.models.calibration.prediction import Prediction, Query
from plaitlog.models.errors import Finding, InputError, RecordError
from plaitlog.models.geometry import flat_width_mm
from plaitlog.models.whip import CONSTRUCTIONS, Construction, Cord
from plaitlog.service.reports.cord_chart import CordChart
from plaitlog.service.usecases.cords.alike import SEEN_MM, Beside, cords_like, unread
from plaitlog.service.usecases.cords.listed import TypicalPlait
from plaitlog.service.usecases.cords.measures import (
    CORD_LENGTH,
    LACKS,
    SHORT_MM,
    OnTheBench,
    cord_as_measured,
    lacks,
)
from plaitlog.service.usecases.cords.slips import Measured, doubted
from plaitlog.service.usecases.cords.worth import LEAST_NARROWER, LIES_FLATTER, filled_in, typical
from plaitlog.service.usecases.pictures.charting import chart_of_counts, count_queries, usual_bodies
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.wanted_stacks import lying_queries, usual_ones

COUNTS: Final = range(4, 18, 2)
"""Strand counts that are told over one body."""
BODY: Final = 2
"""Where no body is named: about two of the cord's own diameters."""
FIELDS: Final = ("weighed_length", "grams", "touching", "ten_strands", "pressed")
UNNAMED: Final = "this cord"


@dataclass(frozen=True, slots=True)
class Buys:
    """What one measurement does to the typical plait: half the 90 % interval without and with it, mm.

    given : whether it was measured. moves_mm : by how much it moved the figure, or may move it.
    """

    key: str
    how: str
    given: bool
    without_mm: float
    with_mm: float
    moves_mm: float

    @property
    def narrower(self) -> float:
        return 1 - self.with_mm / self.without_mm

    @property
    def tells(self) -> bool:
        """Whether it narrows the interval visibly, or moves a figure shown to a tenth of a millimetre."""
        return self.narrower >= LEAST_NARROWER or self.moves_mm >= SEEN_MM


@dataclass(frozen=True, slots=True)
class StackOfIt:
    """A usual stack of one cord, in words and in line notation, with its prediction."""

    words: str
    notation: str
    prediction: Prediction


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What is predicted of a cord: its typical plait, usual stacks, every count over one body."""

    plait: TypicalPlait
    stacks: tuple[StackOfIt, ...]
    chart: CordChart
    buys: tuple[Buys, ...]
    beside: tuple[Beside, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """What was typed of a new cord, as far as it goes.

    errors : by field, what cannot be read. remarks : what is worth a look. slips : what cannot well be.
    put_right : by field, what to type where a common slip explains it. told : None where nothing tells how
    thick the cord is.
    """

    errors: Mapping[str, Finding]
    remarks: tuple[Finding, ...]
    slips: tuple[Finding, ...]
    put_right: Mapping[str, str]
    cord: Cord
    told: Told | None


def tried(
    in_force: InForce,
    known: Mapping[str, Cord],
    typed: Mapping[str, str],
    shown: ShownUnits,
    maker: str | None = None,
) -> Tried:
    """Predict a cord from what is typed so far: texts by the fields of ``OnTheBench``, and ``over``.

    A bare number is in m (length weighed), g, or in the unit that diameters are shown in.
    """
    errors: dict[str, Finding] = {}
    read: dict[str, float] = {}
    for key in (*FIELDS, "over"):
        text = typed.get(key, "").strip()
        if not text:
            continue
        try:
            read[key] = _read(key, text, shown)
        except InputError as error:
            errors[key] = error.finding
    measured = Measured(
        weighed_mm=read.get("weighed_length"),
        grams=read.get("grams"),
        ten_mm=read.get("ten_strands"),
        touching_mm=read.get("touching"),
        pressed_mm=read.get("pressed"),
    )
    material, construction = typed.get("material", "").strip() or "nylon", construction_of(typed)
    name = typed.get("name", "").strip() or UNNAMED
    cord = measured.cord(name, material, construction)
    doubt = doubted(measured, material, construction, shown)
    put_right = {} if doubt.put_right is None else _retyped(measured, doubt.put_right, shown)
    remarks = _weighing(read, errors)
    if name in known:
        text = f"the cord {name!r} is in the workshop already"
        remarks.append(Finding("name-taken", text, "choose another name to keep this one", "name"))
    told = None
    if cord.diameter_mm is not None or cord.linear_density_g_per_m is not None:
        told = _told(in_force, known, unread(in_force, cord), read.get("over"), shown, maker)
    return Tried(
        errors=errors,
        remarks=tuple(remarks),
        slips=doubt.findings,
        put_right=put_right,
        cord=cord,
        told=told,
    )


def construction_of(typed: Mapping[str, str]) -> Construction:
    """The construction that was chosen; cored, the usual one, where none was."""
    wanted = typed.get("construction", "").strip()
    return next((one for one in CONSTRUCTIONS if one == wanted), CONSTRUCTIONS[0])


def on_the_bench(typed: Mapping[str, str], shown: ShownUnits) -> OnTheBench:
    """X sizes get the unit that diameters are shown in."""
    sizes = {
        key: sized(typed[key].strip(), shown)
        for key in ("touching", "ten_strands", "pressed")
        if typed.get(key, "").strip()
    }
    weighed = {key: typed[key].strip() for key in ("weighed_length", "grams") if typed.get(key, "").strip()}
    return OnTheBench(
        name=typed.get("name", "").strip(),
        material=typed.get("material", "").strip(),
        construction=construction_of(typed),
        notes=typed.get("notes", "").strip() or None,
        **sizes,
        **weighed,
    )


def needed(key: str) -> Finding:
    """What is said where a field is empty without which no cord is kept."""
    return Finding("needed", f"a cord needs a {key}", "type it", key)


def sized(text: str, shown: ShownUnits) -> str:
    """A size as typed, with the unit that diameters are shown in where it has none."""
    try:
        units.parse_length(text)
    except InputError as error:
        return f"{text} {shown.diameters}" if error.finding.code == "unit-missing" else text
    return text


def _read(key: str, text: str, shown: ShownUnits) -> float:
    if key == "grams":
        return units.parse_mass(text, unit="g")
    if key == "weighed_length":
        return units.parse_length(text, unit="m", quantity=CORD_LENGTH)
    if key == "ten_strands":
        return units.parse_length(text, unit=shown.diameters, quantity=units.GIRTH)
    if key == "pressed":
        return units.parse_thickness(text, unit=shown.diameters)
    if key == "over" and text in {"0", "none"}:
        return 0.0
    return units.parse_diameter(text, unit=shown.diameters)


def _retyped(was: Measured, now: Measured, shown: ShownUnits) -> dict[str, str]:
    """What to type for the measurements that differ."""
    found = {}
    for field, key in (("touching", "touching_mm"), ("pressed", "pressed_mm"), ("ten_strands", "ten_mm")):
        mm = getattr(now, key)
        if mm is not None and mm != getattr(was, key):
            number = units.exact_text(mm, shown.diameters, within_mm=0.005)
            found[field] = f"{number} {shown.diameters}"
    if now.grams is not None and now.grams != was.grams:
        found["grams"] = f"{now.grams:.4g} g"
    if now.weighed_mm is not None and now.weighed_mm != was.weighed_mm:
        found["weighed_length"] = f"{now.weighed_mm / 1000:.4g} m"
    return found


def _weighing(read: Mapping[str, float], errors: Mapping[str, Finding]) -> list[Finding]:
    length, grams = read.get("weighed_length"), read.get("grams")
    if length is not None and grams is None and "grams" not in errors:
        return [
            Finding("half-weighed", "its weight is missing", "weigh that length and type the grams", "grams")
        ]
    if grams is not None and length is None and "weighed_length" not in errors:
        return [
            Finding(
                "half-weighed",
                "the length weighed is missing",
                "type how many metres were on the scale",
                "weighed_length",
            )
        ]
    if length is not None and length < SHORT_MM:
        text = f"{units.show_length(length, 'm')} is short for a kitchen scale, which shows whole grams"
        return [Finding("weighed-short", text, "weigh 10 m", "weighed_length")]
    return []


def _told(
    in_force: InForce,
    known: Mapping[str, Cord],
    cord: Cord,
    over_mm: float | None,
    shown: ShownUnits,
    maker: str | None,
) -> Told:
    over = usual_bodies(cord, shown)[BODY] if over_mm is None else over_mm
    lying, counted = lying_queries(cord, maker), count_queries(cord, over, COUNTS, maker)
    told = in_force.predict([*lying, *counted])  # at once: a call costs more than a hundred stacks
    usual = usual_ones(lying, told[: len(lying)])
    plait = next(_as_plait(*one) for one in usual if _roles(one[0]) == ["core", "overlay"])
    chart = chart_of_counts(in_force, cord, over, dict(zip(COUNTS, told[len(lying) :], strict=True)), shown)
    alike = cords_like(cord, (one for name, one in known.items() if name in in_force.calibration.cords))
    asked, judge = _with_and_without(cord)
    after = in_force.predict([typical(one, plait.overlay, maker) for one in (*asked, *alike)])
    return Told(
        plait=plait,
        stacks=tuple(StackOfIt(_words(query), _notation(query), one) for query, one in usual),
        chart=chart,
        buys=judge(plait, after[: len(asked)]),
        beside=tuple(
            Beside(one, there, in_force.calibration.cords[one.name])
            for one, there in zip(alike, after[len(asked) :], strict=True)
        ),
    )


def _roles(query: Query) -> list[str]:
    return [layer.role for layer in query.stack.layers]


def _as_plait(query: Query, told: Prediction) -> TypicalPlait:
    return TypicalPlait(round(query.stack.layers[-1].count.mid), told)


def _words(query: Query) -> str:
    *inner, overlay = query.stack.layers
    inside = ", ".join(f"{layer.count.mid:g} in the {layer.role}" for layer in inner)
    return f"{inside}, {overlay.count.mid:g} plaited over"


def _notation(query: Query) -> str:
    return "; ".join(f"{layer.role} {layer.count.mid:g}" for layer in query.stack.layers)


Judge = Callable[[TypicalPlait, Sequence[Prediction]], tuple[Buys, ...]]


def _with_and_without(cord: Cord) -> tuple[list[Cord], Judge]:
    """Cords to predict, and what their predictions say that each measurement buys, the most telling first."""
    missing = lacks(cord)
    bare = ("diameter_mm", "linear_density_g_per_m")
    given = [key for key in LACKS if key not in missing]
    # What alone tells how thick the cord is cannot be left out.
    given = [key for key in given if key not in bare or all(one in given for one in bare)]
    lies = flat_width_mm(cord)
    flatter = [replace(cord, flat_width_mm=lies * factor) for factor in (1 - LIES_FLATTER, 1 + LIES_FLATTER)]
    asked = [filled_in(cord, key) for key in missing] + [_without(cord, key) for key in given]

    def judge(plait: TypicalPlait, told: Sequence[Prediction]) -> tuple[Buys, ...]:
        now = plait.prediction
        moved = [abs(one.diameter_mm - now.diameter_mm) for one in told]
        found = []
        for k, key in enumerate((*missing, *given)):
            half = _half_share(told[k]) * now.diameter_mm  # at the diameter that is predicted now
            if key in given:
                found.append(Buys(key, LACKS[key], True, half, plait.half_mm, moved[k]))
            else:
                moves = max(moved[-2:]) if key == "flat_width_mm" else 0.0
                found.append(Buys(key, LACKS[key], False, plait.half_mm, half, moves))
        return tuple(sorted(found, key=lambda one: (one.given, one.with_mm - one.without_mm - one.moves_mm)))

    return [*asked, *flatter], judge


def _without(cord: Cord, key: str) -> Cord:
    taken: dict[str, Any] = {key: None}
    return replace(cord, **taken)


def _half_share(told: Prediction) -> float:
    return (told.high_90_mm - told.low_90_mm) / 2 / told.diameter_mm


def as_record(typed: Mapping[str, str], shown: ShownUnits) -> dict[str, Any]:
    """The record of the cord that is to be kept; RecordError or another InputError where it cannot be."""
    missing = [key for key in ("name", "material") if not typed.get(key, "").strip()]
    if missing:
        raise RecordError(*(needed(key) for key in missing))
    record, _ = cord_as_measured(on_the_bench(typed, shown))
    return record
