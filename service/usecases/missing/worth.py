"""What some facts about a whip would buy: figures, their rank, and how they are told."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from plaitlog.models.counted import counted
from plaitlog.models.whip import Reading
from plaitlog.service.usecases.missing.facts import Fact
from plaitlog.service.usecases.missing.usability import Level, listed, place_of
from plaitlog.service.usecases.shown_units import ShownUnits

SEEN_MM: Final = 0.05
"""Less than this is not seen on the calipers."""
NAMED_READINGS: Final = 4
"""Readings that become usable are named one by one up to this many."""
LEVELS: Final[Mapping[Level, int]] = {"no": 0, "roughly": 1, "yes": 2}


@dataclass(frozen=True, slots=True)
class Narrowed:
    """Half the 90 % interval at one place before and after, mm; ``before`` None where no stack was known.

    ``shift_mm``: how far to either side of their middle the figures lie that the facts may lead to.
    """

    at_mm: float
    before_mm: float | None
    after_mm: float
    shift_mm: float = 0.0
    reading: int | None = None

    @property
    def gained_mm(self) -> float:
        return 0.0 if self.before_mm is None else self.before_mm - self.after_mm


@dataclass(frozen=True, slots=True)
class Freed:
    """A reading that becomes usable for a fit, its number from 0; ``roughly``: with a count in a range."""

    number: int
    reading: Reading
    roughly: bool
    half_width_mm: float

    def words(self, shown: ShownUnits) -> str:
        rough = "roughly, " if self.roughly else ""
        return f"{place_of(self.reading, shown)} ({rough}90 % ± {shown.diameter(self.half_width_mm)})"


@dataclass(frozen=True, slots=True)
class Worth:
    """What some facts together would buy on one whip.

    sharpened : readings (from 0) usable roughly before, exactly after. places : the prediction wherever the
    facts touch it. mean : the prediction over the whole thong. told : what they are good for beside.
    thong_share : part of the thong that they touch.
    """

    facts: tuple[Fact, ...]
    freed: tuple[Freed, ...] = ()
    sharpened: tuple[int, ...] = ()
    places: tuple[Narrowed, ...] = ()
    mean: Narrowed | None = None
    taper: tuple[Level, Level] = ("no", "no")
    handling: tuple[bool, bool] = (False, False)
    thong_share: float = 1.0
    told: str = ""

    @property
    def most_narrowed(self) -> Narrowed | None:
        """Where the interval narrows most."""
        return max(self._known, key=lambda x: x.gained_mm, default=None)

    @property
    def most_shifted(self) -> Narrowed | None:
        """Where the figure moves most."""
        return max(self._known, key=lambda x: x.shift_mm, default=None)

    @property
    def _known(self) -> list[Narrowed]:
        return [x for x in self.places if x.before_mm is not None]

    @property
    def score(self) -> float:
        """For ranking. One for each reading freed, each step of the taper and handling; half for a reading
        sharpened; the share by which intervals narrow along the thong; parted among the facts wanted."""
        total = len(self.freed) + 0.5 * len(self.sharpened)
        total += LEVELS[self.taper[1]] - LEVELS[self.taper[0]] + (self.handling[1] - self.handling[0])
        total += self.thong_share * self._share()
        return total / max(len(self.facts), 1)

    def _share(self) -> float:
        if self.mean is not None and self.mean.before_mm:
            return max(self.mean.gained_mm / self.mean.before_mm, 0.0)
        narrowed = [x.gained_mm / x.before_mm for x in self._known if x.before_mm]
        shifted = [0.5 * x.shift_mm / x.before_mm for x in self._known if x.before_mm]
        return max((0.0, *narrowed, *shifted))

    @property
    def seen(self) -> bool:
        """Whether it changes anything that can be seen."""
        changes = self.taper[0] != self.taper[1] or self.handling[0] != self.handling[1]
        return bool(self.freed or self.sharpened or changes or self.told or any(self._widths(ShownUnits())))

    def words(self, shown: ShownUnits) -> str:
        """The facts, and what they would buy, with figures."""
        return f"{listed([fact.words(shown) for fact in self.facts])}: {'; '.join(self.gains(shown))}"

    def gains(self, shown: ShownUnits) -> list[str]:
        """What they would buy, one piece each."""
        found = list(self._readings(shown))
        found += self._widths(shown)
        if self.taper[0] != self.taper[1]:
            found.append(f"taper {self.taper[1]} instead of {self.taper[0]}")
        if self.handling[0] != self.handling[1]:
            found.append("handling yes instead of no")
        if self.told:
            found.append(self.told)
        return found or [f"changes nothing by more than {shown.diameter(SEEN_MM)}"]

    def _readings(self, shown: ShownUnits) -> Iterator[str]:
        if 0 < len(self.freed) <= NAMED_READINGS:
            names = listed([x.words(shown) for x in self.freed])
            one = len(self.freed) == 1
            yield f"the {'reading' if one else 'readings'} {names} {'becomes' if one else 'become'} usable"
        elif self.freed:
            rough = sum(x.roughly for x in self.freed)
            widths = [x.half_width_mm for x in self.freed]
            yield (
                f"{len(self.freed)} readings become usable{f', {rough} of them roughly' if rough else ''} "
                f"(90 % ± {shown.diameter_number(min(widths))} to {shown.diameter(max(widths))})"
            )
        if self.sharpened:
            yield f"{counted(len(self.sharpened), 'reading')} no longer rough"

    def _widths(self, shown: ShownUnits) -> Iterator[str]:
        mean, most, shifted = self.mean, self.most_narrowed, self.most_shifted
        if mean is not None and mean.before_mm is not None and mean.gained_mm >= SEEN_MM:
            yield f"90 % along the thong from {_from_to(mean.before_mm, mean.after_mm, shown)}"
            return
        if most is not None and most.before_mm is not None and most.gained_mm >= SEEN_MM:
            yield f"90 % at {shown.length(most.at_mm)} from {_from_to(most.before_mm, most.after_mm, shown)}"
        else:
            most = None
        if shifted is not None and shifted.shift_mm >= max(SEEN_MM, most.gained_mm if most else 0.0):
            moved = shown.diameter(shifted.shift_mm)
            there = "there" if most and most.at_mm == shifted.at_mm else f"at {shown.length(shifted.at_mm)}"
            yield f"moves the figure {there} by up to {moved}"

    def to_json(self, shown: ShownUnits) -> dict[str, Any]:
        most = self.mean or self.most_narrowed
        shifted = self.most_shifted
        return {
            "facts": [fact.key for fact in self.facts],
            "text": self.words(shown),
            "readings_freed": [x.number + 1 for x in self.freed],
            "readings_freed_roughly": [x.number + 1 for x in self.freed if x.roughly],
            "readings_sharpened": [k + 1 for k in self.sharpened],
            "at_mm": None if most is None or most is self.mean else most.at_mm,
            "half_width_90_before_mm": None if most is None else most.before_mm,
            "half_width_90_after_mm": None if most is None else most.after_mm,
            "shift_mm": None if shifted is None else shifted.shift_mm,
            "taper": list(self.taper),
            "handling": list(self.handling),
        }


def _from_to(before_mm: float, after_mm: float, shown: ShownUnits) -> str:
    return f"± {shown.diameter_number(before_mm)} to ± {shown.diameter(after_mm)}"


def ranked(found: Sequence[Worth]) -> tuple[Worth, ...]:
    """Those that change something, the most for each fact first, then those that want fewer facts."""
    return tuple(sorted((x for x in found if x.seen), key=lambda x: (-x.score, len(x.facts))))
