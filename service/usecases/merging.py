"""What a whip is after a record was taken into it: keys that are stated replace, others stay.

Readings are only ever added: one that is identical to a reading already there is that reading.
"""

from collections import Counter
from dataclasses import dataclass, field, replace

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.notation import parse_readings
from plaitlog.models.whip import Layer, RatingSession, Reading, Weight, Whip
from plaitlog.service.schemas.refusals import record_from
from plaitlog.service.schemas.whips import WhipRecord
from plaitlog.service.usecases.from_layers import layers_from
from plaitlog.service.usecases.from_measurements import reading_from
from plaitlog.service.usecases.from_records import Refusals
from plaitlog.service.usecases.from_steps import bounded
from plaitlog.service.usecases.from_whip_records import WhipStated, whip_from
from plaitlog.service.usecases.places import thick_end_mm, unplaced
from plaitlog.service.usecases.to_layer_records import by_notation, layer_record, letters_of
from plaitlog.service.usecases.to_records import is_short


@dataclass(slots=True)
class Merged:
    """One whip while a file is taken in. ``before`` is None for a whip that is new.

    ``whip`` leaves out its readings; ``there`` counts the readings that were there already and that no
    line of the file has yet claimed; ``added`` are the new ones, ``origins`` the line each stands on and
    its place there. ``line`` is that of the whip's own record, ``rating_lines`` that of each rating by its
    place in ``whip.ratings``.
    """

    before: Whip | None
    whip: Whip
    there: Counter[Reading] = field(default_factory=Counter)
    added: list[Reading] = field(default_factory=list)
    origins: list[tuple[int, str]] = field(default_factory=list)
    line: int | None = None
    rating_lines: dict[int, int] = field(default_factory=dict)

    @property
    def after(self) -> Whip:
        kept = () if self.before is None else self.before.readings
        return replace(self.whip, readings=(*kept, *self.added))

    def add_reading(self, reading: Reading, line: int, where: str = "") -> bool:
        """Append the reading unless it is there already; whether it was appended."""
        kept = unplaced(reading)
        if self.there[kept] > 0:
            self.there[kept] -= 1
            return False
        self.added.append(kept)
        self.origins.append((line, where))
        return True


def begin(stored: Whip | None, label: str = "") -> Merged:
    """A whip as it stands in the workshop, or one that holds nothing but its label."""
    if stored is None:
        return Merged(None, Whip(label=label))
    there = Counter(map(unplaced, stored.readings))
    return Merged(stored, replace(stored, readings=()), there)


def take_in(merged: Merged, record: WhipRecord, line: int, refusals: Refusals) -> tuple[Finding, ...]:
    """Take the record of one line into a whip; what is wrong goes to ``refusals``, findings are returned."""
    merged.line = line
    stated = whip_from(record, refusals)
    old = merged.whip
    whip = stated.own.applied_to(old)
    findings: tuple[Finding, ...] = ()
    if record.letters is not None and record.layers is None:
        refusals.add("letters", "letters-alone", "no layers are listed whose cords they name", "list them")
    if record.layers is not None:
        read = layers_from(record, whip.point_mm, refusals)
        findings = read.findings
        whip = replace(whip, layers=read.layers)
    elif whip.point_mm != old.point_mm:
        whip = replace(whip, layers=_with_point_moved(whip, refusals))
    whip = replace(whip, weights=_weights(old.weights, stated, refusals))
    if stated.rating is not None:
        whip = replace(whip, ratings=with_rating(whip.ratings, stated.rating))
    merged.whip = whip
    readings, more = _readings(record, merged, refusals)
    for where, reading in readings:
        merged.add_reading(reading, line, where)
    return findings + more


def with_rating(ratings: tuple[RatingSession, ...], new: RatingSession) -> tuple[RatingSession, ...]:
    """The sessions with one more, or with one replaced.

    Person, day, hours of use and the whip it was thrown beside tell them apart.
    """
    identity = rating_identity(new)
    for i, rating in enumerate(ratings):
        if rating_identity(rating) == identity:
            return (*ratings[:i], new, *ratings[i + 1 :])
    return (*ratings, new)


def rating_identity(rating: RatingSession) -> tuple[object, ...]:
    return (is_short(rating), rating.by, rating.on, rating.hours_of_use, rating.compared_with)


def _with_point_moved(whip: Whip, refusals: Refusals) -> tuple[Layer, ...]:
    """Layers of a whip whose point has moved: what was typed as counted from it (p8) moves with it."""
    listed = [by_notation(layer_record(layer)) for layer in whip.layers]
    record = record_from(
        {"kind": "whip", "label": whip.label, "letters": letters_of(whip.layers) or None, "layers": listed}
    )
    assert isinstance(record, WhipRecord)
    read = layers_from(record, whip.point_mm, refusals).layers
    return tuple(
        again if "strands" in layer.typed else _bounded(layer, whip.point_mm)
        for layer, again in zip(whip.layers, read, strict=True)
    )


def _bounded(layer: Layer, point_mm: float | None) -> Layer:
    if layer.schedule is None:
        return layer
    return replace(layer, schedule=replace(layer.schedule, steps=bounded(layer.schedule.steps, point_mm)))


def _weights(old: tuple[Weight, ...], stated: WhipStated, refusals: Refusals) -> tuple[Weight, ...]:
    """The finished weighing first, then all others."""
    main = next((weight for weight in old if weight.after_layer is None), None)
    others = tuple(weight for weight in old if weight is not main)
    if stated.weight is not None:
        main = stated.weight
    elif stated.weight_with is not None:
        if main is None:
            refusals.add("weight_with", "weight-missing", "no weight is given", "give weight_g too")
        else:
            main = replace(main, with_parts=stated.weight_with)
    if stated.weights is not None:
        others = stated.weights
    return others if main is None else (main, *others)


def _readings(
    record: WhipRecord, merged: Merged, refusals: Refusals
) -> tuple[list[tuple[str, Reading]], tuple[Finding, ...]]:
    """Readings, each with the key it stands under."""
    given = record.readings
    if isinstance(given, list):
        if record.readings_text is not None:
            _keep_text(merged, record.readings_text)
        found = []
        for number, shape in enumerate(given, start=1):
            reading = reading_from(shape, refusals, f"readings {number}")
            if reading is not None:
                found.append((f"readings {number}", reading))
        return found, ()
    if record.readings_text is not None:
        refusals.add("readings_text", "text-alone", "no readings stand beside it", "write it under readings")
    if given is None:
        return [], ()
    whip = merged.whip
    try:
        line = parse_readings(given, layers=whip.layers, start_mm=thick_end_mm(whip), point_mm=whip.point_mm)
    except InputError as error:
        refusals.take("readings", error)
        return [], ()
    _keep_text(merged, given)
    return [("readings", reading) for reading in line.readings], tuple(
        finding.at("readings") for finding in line.findings
    )


def _keep_text(merged: Merged, text: str) -> None:
    """Keep a run of readings as typed, below those typed before."""
    kept = merged.whip.typed.get("readings", "")
    if f"\n{text}\n" not in f"\n{kept}\n":
        typed = {**merged.whip.typed, "readings": f"{kept}\n{text}" if kept else text}
        merged.whip = replace(merged.whip, typed=typed)
