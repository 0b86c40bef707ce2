"""What the record of one whip can be used for: the fit, its taper, what handles well.

*Fit*: a reading is usable where its stack is known; "roughly" where a strand count there is only known to lie
in a range (a place noted as about or between), which the fit takes with a wider spread.

*Taper*: thick end, middle, point and the six stations between them, an eighth of the thong apart. A station
is known from a finished reading within a sixteenth of the thong, from readings on both sides of it at most a
quarter apart, or from a prediction of its known stack, given what was read on this whip; the best counts.
"Yes" where all nine are known to ``SURE``, "roughly" where thick end, middle and point are to ``ROUGH``.

*Handling*: a score in some rating session, and a taper that is at least roughly known.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from plaitlog.models.calibration.observations import Z90
from plaitlog.models.calibration.prediction import Observation, Query
from plaitlog.models.counted import counted
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.stack import Stack, stack_at
from plaitlog.models.whip import Cord, Reading, Status, Whip
from plaitlog.service.usecases.missing.facts import Fact
from plaitlog.service.usecases.missing.lacking import scored
from plaitlog.service.usecases.missing.wanting import wants
from plaitlog.service.usecases.observing import REASONS, observation, reason
from plaitlog.service.usecases.places import placed, station_of, thick_end_mm
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.questions import Questions
from plaitlog.service.usecases.shown_units import ShownUnits

Level = Literal["no", "roughly", "yes"]
SURE: Final = 0.03
"""Standard deviation of log diameter: fullness is then known to 0.05 (90 %), less than half the band in which
a taper is called even (0.45 to 0.6)."""
ROUGH: Final = 0.08
"""The same: fullness to 0.13, so that an early taper is told from a late one, neither from an even one."""
UNFINISHED: Final = ("planned", "on the bench")
EIGHTHS: Final = 8
NEAR: Final = 1 / 16
BRACKET: Final = 1 / 4
THICK_NEAR_MM: Final = 50.0
"""Where the thong's length is not noted, a reading this near its thick end counts as taken there."""
NAMED: Final[Mapping[int, str]] = {0: "thick end", 4: "middle", 8: "point"}
PLACES: Final[Mapping[str, str]] = {"thick": "thick end", "mid": "middle", "point": "point"}


@dataclass(frozen=True, slots=True)
class ReadingUse:
    """One reading: whether a fit takes it, and what it wants if not (empty: no fact would help)."""

    reading: Reading
    use: Literal["yes", "roughly", "no"]
    code: str = ""
    wants: tuple[Fact, ...] = ()


@dataclass(frozen=True, slots=True)
class TaperStation:
    """How well the diameter is known at one of the nine stations: sd of its log, None where it is not."""

    eighth: int
    at_mm: float | None
    sd_log: float | None
    known_from: Literal["readings", "prediction", "nothing"]


@dataclass(frozen=True, slots=True)
class Usability:
    """What a whip can be used for. ``taper`` is None for a test plait, which has none."""

    readings: tuple[ReadingUse, ...]
    taper: Level | None
    stations: tuple[TaperStation, ...]
    scores: int
    status: Status | None = None

    @property
    def planned(self) -> bool:
        return self.status == "planned"

    @property
    def usable(self) -> int:
        return sum(use.use != "no" for use in self.readings)

    @property
    def roughly(self) -> int:
        return sum(use.use == "roughly" for use in self.readings)

    @property
    def handling(self) -> bool:
        return self.scores > 0 and self.taper in ("roughly", "yes")

    def line(self) -> str:
        """All of it in one line."""
        parts = [self._fit()]
        if self.taper is not None:
            parts += [f"taper {self.taper}", f"handling {'yes' if self.handling else 'no'}"]
        return f"usable for: {', '.join(parts)}"

    def _fit(self) -> str:
        total = len(self.readings)
        if not total:
            return "fit no"
        beside = f" ({self.roughly} roughly)" if self.roughly else ""
        return f"fit {self.usable} of {total} reading{'s' if total > 1 else ''}{beside}"

    def reasons(self, shown: ShownUnits) -> list[str]:
        """Why it cannot be used for more, one line each."""
        found = list(self._reading_reasons(shown))
        if self.taper in ("no", "roughly"):
            found.append(self._taper_reason())
        if self.taper is not None and not self.handling and self.status not in UNFINISHED:
            found.append(self._handling_reason())
        return found

    def _reading_reasons(self, shown: ShownUnits) -> list[str]:
        if self.planned:
            return ["fit: a planned whip takes no part"]
        if not self.readings:
            return ["fit: nothing was measured"]
        grouped: dict[str, list[str]] = {}
        for use in self.readings:
            if use.use == "no":
                grouped.setdefault(_why(use, shown), []).append(place_of(use.reading, shown))
        return [
            f"fit: the reading{'' if len(names) == 1 else 's'} {listed(names)} "
            f"{why if len(names) == 1 else why.replace('wants', 'want', 1)}"
            for why, names in grouped.items()
        ]

    def _taper_reason(self) -> str:
        named = {NAMED[x.eighth]: x.sd_log for x in self.stations if x.eighth in NAMED}
        unknown = [name for name, sd in named.items() if sd is None]
        if unknown:
            return f"taper: the diameter is not known at the {listed(unknown)}"
        if self.taper == "no":
            worst = max(named, key=lambda name: named[name] or 0.0)
            return f"taper: at the {worst} it is known to {percent(named[worst])}, {percent(ROUGH)} is wanted"
        sure = sum(x.sd_log is not None and x.sd_log <= SURE for x in self.stations)
        return f"taper: {sure} of {EIGHTHS + 1} stations are known to {percent(SURE)} or better"

    def _handling_reason(self) -> str:
        if self.scores:
            return f"handling: {counted(self.scores, 'rated session')}, but no taper to go with it"
        return "handling: no score in a rating session" + (", and no taper" if self.taper == "no" else "")

    def to_json(self, shown: ShownUnits) -> dict[str, Any]:
        return {
            "fit": {
                "readings": len(self.readings),
                "usable": self.usable,
                "roughly": self.roughly,
                "left_out": [
                    {"reading": k, "at_mm": x.reading.at_mm, "code": x.code, "text": _why(x, shown)}
                    for k, x in enumerate(self.readings, start=1)
                    if x.use == "no"
                ],
            },
            "taper": {
                "usable": self.taper,
                "stations": [
                    {"at_mm": x.at_mm, "sd_log": x.sd_log, "known_from": x.known_from} for x in self.stations
                ],
            },
            "handling": {"usable": self.handling, "scored_sessions": self.scores},
            "line": self.line(),
            "reasons": self.reasons(shown),
        }


def _why(use: ReadingUse, shown: ShownUnits) -> str:
    if use.wants:
        return f"wants {listed([fact.words(shown) for fact in use.wants])}"
    return f"left out: {REASONS.get(use.code, use.code)}"


def usability(in_force: InForce, whip: Whip, cords: Mapping[str, Cord]) -> Usability:
    """What the record of a whip can be used for."""
    questions = Questions()
    asked = TaperQuestions.of(whip, cords, questions, in_force)
    questions.answer(in_force)
    uses = reading_uses(whip, cords)
    stations = () if whip.type == "test plait" else asked.stations(questions)
    return Usability(
        uses,
        None if whip.type == "test plait" else level_of(stations),
        stations,
        scored(whip),
        whip.status,
    )


def reading_uses(whip: Whip, cords: Mapping[str, Cord]) -> tuple[ReadingUse, ...]:
    """Every reading, in the order of the record."""
    return tuple(_reading_use(whip, reading, cords) for reading in placed(whip).readings)


def _reading_use(whip: Whip, reading: Reading, cords: Mapping[str, Cord]) -> ReadingUse:
    try:
        seen = observation(whip, reading, cords)
    except StackNotKnownError as error:
        return ReadingUse(reading, "no", reason(whip, error), wants(whip, reading, cords) or ())
    if whip.status == "planned":
        return ReadingUse(reading, "no", "planned")
    return ReadingUse(reading, "roughly" if is_rough(seen.stack) else "yes")


def is_rough(stack: Stack) -> bool:
    """Whether some strand count is only known to lie in a range."""
    return any(not group.count.exact for layer in stack.layers for group in layer.groups)


def level_of(stations: Sequence[TaperStation]) -> Level:
    sds = [math.inf if x.sd_log is None else x.sd_log for x in stations]
    named = [sd for sd, x in zip(sds, stations, strict=True) if x.eighth in NAMED]
    if not named or max(named) > ROUGH:
        return "no"
    return "yes" if len(sds) == EIGHTHS + 1 and max(sds) <= SURE else "roughly"


@dataclass(frozen=True, slots=True)
class TaperQuestions:
    """The nine stations of one whip (three where its length is not noted), put to the fit.

    Each entry: eighth, station, sd of log diameter from readings, number of the question.
    """

    entries: tuple[tuple[int, float | None, float | None, int | None], ...]

    @staticmethod
    def of(
        whip: Whip, cords: Mapping[str, Cord], questions: Questions, in_force: InForce
    ) -> "TaperQuestions":
        whip = placed(whip)
        finished = [x for x in whip.readings if x.after_layer in (None, len(whip.layers))]
        noise = _noise(in_force)
        point, start = whip.point_mm, thick_end_mm(whip)
        if point is None or start is None:
            return TaperQuestions(
                tuple(
                    (eighth, station_of(whip, place), _named_sd(finished, place, start, noise), None)
                    for eighth, place in ((0, "thick"), (4, "mid"), (8, "point"))
                )
            )
        taken = observations(whip, cords)
        entries = []
        for eighth in range(EIGHTHS + 1):
            at_mm = start + (point - start) * eighth / EIGHTHS
            try:
                stack = stack_at(whip, at_mm, cords)
            except StackNotKnownError:
                number = None
            else:
                number = questions.ask(Query(stack=stack, maker=whip.maker, at_mm=at_mm, readings=taken))
            entries.append((eighth, at_mm, _read_sd(finished, at_mm, point - start, noise), number))
        return TaperQuestions(tuple(entries))

    def stations(self, questions: Questions) -> tuple[TaperStation, ...]:
        found = []
        for eighth, at_mm, read, number in self.entries:
            told = None if number is None else questions.sd_log(number)
            if read is not None and (told is None or read <= told):
                found.append(TaperStation(eighth, at_mm, read, "readings"))
            elif told is not None:
                found.append(TaperStation(eighth, at_mm, told, "prediction"))
            else:
                found.append(TaperStation(eighth, at_mm, None, "nothing"))
        return tuple(found)


def observations(whip: Whip, cords: Mapping[str, Cord]) -> tuple[Observation, ...]:
    """The readings of a placed whip on known stacks."""
    found = []
    for reading in whip.readings:
        try:
            found.append(observation(whip, reading, cords))
        except StackNotKnownError:
            continue
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Noise:
    residual: float
    caliper_mm: float

    def sd(self, reading: Reading) -> float:
        """Of log diameter of one reading; one in doubt counts a quarter, so twice as wide."""
        sd = math.sqrt(self.residual + (self.caliper_mm / reading.size_mm) ** 2)
        return 2 * sd if reading.doubtful else sd


def _noise(in_force: InForce) -> _Noise:
    calibration = in_force.calibration
    return _Noise(
        calibration.variances["residual"] * calibration.noise, calibration.model_parameters.caliper_mm
    )


def _named_sd(readings: Sequence[Reading], place: str, start: float | None, noise: _Noise) -> float | None:
    near = [
        noise.sd(x)
        for x in readings
        if x.place == place
        or (
            place == "thick"
            and start is not None
            and x.at_mm is not None
            and 0 <= x.at_mm - start <= THICK_NEAR_MM
        )
    ]
    return min(near, default=None)


def _read_sd(readings: Sequence[Reading], at_mm: float, thong_mm: float, noise: _Noise) -> float | None:
    known = [(x.at_mm, noise.sd(x)) for x in readings if x.at_mm is not None]
    near = [sd for at, sd in known if abs(at - at_mm) <= NEAR * thong_mm]
    if near:
        return min(near)
    before = max((x for x in known if x[0] <= at_mm), default=None)
    after = min((x for x in known if x[0] >= at_mm), default=None)
    if before is None or after is None or after[0] - before[0] > BRACKET * thong_mm:
        return None
    return max(before[1], after[1])


def place_of(reading: Reading, shown: ShownUnits) -> str:
    """Where a reading was taken, in words that follow "reading": at the point, at 12 in on layer 2."""
    on = "" if reading.after_layer is None else f" on layer {reading.after_layer}"
    if reading.place is not None and reading.place in PLACES:
        return f"at the {PLACES[reading.place]}{on}"
    return f"{'without a place' if reading.at_mm is None else f'at {shown.length(reading.at_mm)}'}{on}"


def listed(names: Sequence[str]) -> str:
    """In a sentence: a, b and c."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else ""


def percent(sd_log: float | None) -> str:
    """The 90 % interval of a log diameter, either side, in per cent: that of a diameter near enough."""
    return "nothing" if sd_log is None else f"± {100 * Z90 * sd_log:.0f} %"
