"""Taper parameters of whips, each with its uncertainty and how it is known: of one whip, or of a workshop."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from plaitlog.models.calibration.along import Thong
from plaitlog.models.errors import Finding, StackNotKnownError
from plaitlog.models.handling.definitions import DEFINITIONS
from plaitlog.models.handling.drop_spacing import LayerDrops, drops_of, layer_end_mm, spacing_trend
from plaitlog.models.handling.estimate import Estimate
from plaitlog.models.handling.profile import Profile, shapes_of
from plaitlog.models.handling.taper_word import Word, other_words, taper_word
from plaitlog.models.stack import layers_are_complete
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.usecases.handling.masses import masses
from plaitlog.service.usecases.handling.missing_parameters import what_would_tell
from plaitlog.service.usecases.handling.profiles import Readings, expected_profiles, expected_thong, measured
from plaitlog.service.usecases.places import from_handle_end, placed
from plaitlog.service.usecases.predicting import InForce

AT_ONCE: Final = 200
"""Whips worked out together: enough to share the work, few enough for the processor's cache."""
MANY: Final = 2_000
"""From so many whips on further processes are worth their start of a second or two (own measurement)."""
MOST_PROCESSES: Final = 4
"""Each holds the program anew, some 200 MB (own choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class TaperParameters:
    """What is known of one whip's taper. parameters : by name, in the order of the definitions.

    readings : what they gave; None where the thong's place on the whip is not known. predicted_from : what
    the predicted ones rest on; None where nothing is predicted. findings : what would tell more.
    """

    label: str
    type: str | None
    parameters: Mapping[str, Estimate]
    readings: Readings | None
    predicted_from: str | None
    drops: tuple[LayerDrops, ...]
    findings: tuple[Finding, ...]

    @property
    def word(self) -> Word | None:
        return taper_word(self.parameters)

    @property
    def other_words(self) -> tuple[Word, ...]:
        """Words that the uncertainty leaves open beside it."""
        return other_words(self.parameters)


def parameters_of(in_force: InForce, whip: Whip, cords: Mapping[str, Cord]) -> TaperParameters:
    """Taper parameters of one whip, recorded or only planned."""
    return all_parameters(in_force, [whip], cords)[0]


def shape_of(in_force: InForce, whip: Whip, cords: Mapping[str, Cord]) -> TaperParameters:
    """The same without what is told of masses, in half the time: enough for its shape in words."""
    return _some(in_force, [whip], cords, weigh=False)[0]


def all_parameters(
    in_force: InForce,
    whips: Sequence[Whip],
    cords: Mapping[str, Cord],
    done: Callable[[int], None] = lambda whips: None,
) -> list[TaperParameters]:
    """The same for many whips, in their order; ``done`` is told how many are worked out so far.

    From ``MANY`` whips on it is shared among the processor's cores.
    """
    parts = [whips[first : first + AT_ONCE] for first in range(0, len(whips), AT_ONCE)]
    found: list[TaperParameters] = []
    for part in _each(in_force, parts, cords, alone=len(whips) < MANY):
        found += part
        done(len(found))
    return found


def _each(
    in_force: InForce, parts: Sequence[Sequence[Whip]], cords: Mapping[str, Cord], *, alone: bool
) -> Iterator[list[TaperParameters]]:
    if alone:
        yield from (_some(in_force, part, cords) for part in parts)
        return
    from joblib import Parallel, cpu_count, delayed

    work = Parallel(
        n_jobs=min(cpu_count(), MOST_PROCESSES),
        return_as="generator",
        inner_max_num_threads=1,
        backend="loky",
    )
    yield from work(delayed(_some)(in_force, part, cords) for part in parts)


@dataclass(frozen=True, slots=True, eq=False)
class _Turned:
    """A whip with all places counted from the handle end."""

    whip: Whip
    drops: tuple[LayerDrops, ...]
    readings: Readings


def _some(
    in_force: InForce, whips: Sequence[Whip], cords: Mapping[str, Cord], *, weigh: bool = True
) -> list[TaperParameters]:
    turned = [_turned(in_force, whip) for whip in whips]
    seen = [None if isinstance(one, Finding) else one.readings.profile for one in turned]
    thongs = [_thong(one, profile, cords) for one, profile in zip(turned, seen, strict=True)]
    asked = [one for one in thongs if isinstance(one, Thong)]
    lengths = [
        whip.thong_length_mm or 0.0 for whip, one in zip(whips, thongs, strict=True) if isinstance(one, Thong)
    ]
    told = [one for one in seen if one is not None]
    shapes = shapes_of([*told, *expected_profiles(in_force.calibration, asked, lengths)])
    of_seen, of_expected = iter(shapes[: len(told)]), iter(shapes[len(told) :])
    weighed = masses(in_force, whips, cords) if weigh else [None] * len(whips)
    found = []
    for whip, one, profile, thong, mass in zip(whips, turned, seen, thongs, weighed, strict=True):
        by_readings = {} if profile is None else next(of_seen)
        by_fit = next(of_expected) if isinstance(thong, Thong) else {}
        parameters = {name: each.as_known("predicted") for name, each in by_fit.items()} | dict(by_readings)
        if by_readings and by_readings["taper_ratio"].value and "fullness" not in by_readings:
            parameters = _agreeing(parameters, by_readings)
        parameters |= mass if isinstance(mass, dict) else {}
        if isinstance(one, _Turned):
            parameters |= _of_layers(one.whip, one.drops)
        parameters |= _of_handle(whip, parameters)
        own = len(thong.readings) if isinstance(thong, Thong) else 0
        rests_on = in_force.rests_on + (f", with {own} readings of this whip" if own else "")
        predicted = any(each.known == "predicted" for each in parameters.values())
        reasons = [each for each in (one, thong, mass) if isinstance(each, Finding)]
        ordered = {each.name: parameters[each.name] for each in DEFINITIONS if each.name in parameters}
        found.append(
            TaperParameters(
                label=whip.label,
                type=whip.type,
                parameters=ordered,
                readings=one.readings if isinstance(one, _Turned) else None,
                predicted_from=rests_on if predicted else None,
                drops=one.drops if isinstance(one, _Turned) else (),
                findings=what_would_tell(whip, ordered, profile, reasons),
            )
        )
    return found


def _turned(in_force: InForce, whip: Whip) -> _Turned | Finding:
    try:
        found = from_handle_end(placed(whip))
    except StackNotKnownError as error:
        return error.finding
    drops = drops_of(found)
    return _Turned(found, drops, measured(found, drops, in_force.calibration))


def _thong(
    one: _Turned | Finding, profile: Profile | None, cords: Mapping[str, Cord]
) -> Thong | Finding | None:
    """What is to be predicted; None where the readings tell the whole shape."""
    if isinstance(one, Finding):
        return None
    if profile is not None and profile.tells_shape:
        return None
    try:
        return expected_thong(one.whip, cords)
    except StackNotKnownError as error:
        return error.finding


def _agreeing(parameters: Mapping[str, Estimate], seen: Mapping[str, Estimate]) -> dict[str, Estimate]:
    """Without what only tapering thongs have, where the readings show one that does not taper."""
    if "middle_share" in seen:
        return dict(parameters)
    shape = ("fullness", "middle_share", "parallel_thick_mm", "parallel_point_mm")
    return {name: each for name, each in parameters.items() if name not in shape}


def _of_layers(whip: Whip, drops: Sequence[LayerDrops]) -> dict[str, Estimate]:
    found: dict[str, Estimate] = {}
    trend = spacing_trend(drops)
    if trend is not None:
        found["drop_spacing_trend"] = trend
    overlays = [one.spacing for one in drops if one.role == "overlay" and one.spacing is not None]
    if overlays:
        found["drop_spacing_mm"] = overlays[-1]
    length = whip.thong_length_mm
    if length and layers_are_complete(whip):
        for name, role in (("core_fraction", "core"), ("belly_fraction", "belly")):
            ends = [layer_end_mm(layer, length) for layer in whip.layers if layer.role == role]
            known = [end for end in ends if end is not None]
            if len(known) == len(ends):
                found[name] = Estimate.of(max(known, default=0.0) / length, 0.0, "recorded")
    return found


def _of_handle(whip: Whip, parameters: Mapping[str, Estimate]) -> dict[str, Estimate]:
    found: dict[str, Estimate] = {}
    if whip.handle_length_mm is not None:
        found["handle_length_mm"] = Estimate.of(whip.handle_length_mm, 0.0, "recorded")
    if whip.handle_diameter_mm is not None:
        found["handle_diameter_mm"] = Estimate.of(whip.handle_diameter_mm, 0.0, "recorded")
        thick = parameters.get("thick_end_mm")
        if thick is not None:
            ratio = whip.handle_diameter_mm / thick.value
            found["handle_ratio"] = Estimate.of(ratio, ratio * thick.sd / thick.value, thick.known)
    return found
