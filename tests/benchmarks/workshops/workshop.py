"""A simulated workshop: a pool of cords, makers with their pull, and whips whose truth is known."""

import math
import zlib
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.stack import Stack, stack_at
from plaitlog.models.whip import Cord, Reading, Whip
from tests.benchmarks.workshops.cords import HiddenCord, as_measured, draw_pool
from tests.benchmarks.workshops.habits import CONDITIONS, PLAIN, PULL_SD, Habits
from tests.benchmarks.workshops.laying import Mechanics, outer_mm
from tests.benchmarks.workshops.maker import choose, lay_out
from tests.benchmarks.workshops.measuring import blurred, measure

KNOWN_CORDS = 6
MAKERS = ("Orrin", "Tamsin", "Wystan")


@dataclass(frozen=True, slots=True)
class MadeWhip:
    """One whip as noted (with its readings) and as it was really laid up."""

    noted: Whip
    real: Whip

    def real_stack(self, reading: Reading, catalogue: Mapping[str, Cord]) -> Stack:
        assert reading.at_mm is not None
        return stack_at(self.real, reading.at_mm, catalogue, reading.after_layer)


@dataclass(frozen=True, slots=True)
class Workshop:
    """Truth (``hidden``, ``makers``: log pull) beside what the makers know (``catalogue``)."""

    mechanics: Mechanics
    seed: int
    habits: Habits
    hidden: Mapping[str, HiddenCord]
    catalogue: Mapping[str, Cord]
    makers: Mapping[str, float]

    @property
    def known(self) -> tuple[str, ...]:
        """Names of the cords that recorded whips are made of."""
        return tuple(self.hidden)[:KNOWN_CORDS]

    @property
    def never_recorded(self) -> tuple[str, ...]:
        return tuple(self.hidden)[KNOWN_CORDS:]

    def expected_mm(
        self,
        stack: Stack,
        maker: str,
        condition: str | None = None,
        without_quirks: Collection[str] = (),
    ) -> float:
        """True expected diameter of a stack for this maker: no whip's own pull, no noise.

        The quirks of the cords named in ``without_quirks`` are taken at their mean.
        """
        hidden = {
            name: cord.without_quirks() if name in without_quirks else cord
            for name, cord in self.hidden.items()
        }
        pull = self.makers[maker] + CONDITIONS[condition or "rolled"]
        return outer_mm(self.mechanics, stack, hidden, lambda slot: pull)

    def make(self, count: int, purpose: str, cords: Sequence[str] | None = None) -> tuple[MadeWhip, ...]:
        """``count`` whips of the known cords, or of ``cords``; the same purpose makes the same whips.

        The first of twenty whips are the whips of eight: a workshop grows.
        """
        names = self.known if cords is None else tuple(cords)
        return tuple(self._make_one(f"{purpose}-{number:03d}", names) for number in range(count))

    def make_with(self, cord: str, count: int, purpose: str) -> tuple[MadeWhip, ...]:
        """Whips whose overlay is ``cord``; half of the bellies and of the cores are, too."""
        return tuple(self._make_one(f"{purpose}-{number:03d}", self.known, cord) for number in range(count))

    def _make_one(self, label: str, names: Sequence[str], overlay: str | None = None) -> MadeWhip:
        rng = _generator(self.seed, self.mechanics.name, label)
        choice = choose(rng, [self.hidden[name] for name in names], self.habits)
        if overlay is not None:
            outside, seen = self.hidden[overlay], choice.overlay[0].name
            inner = [outside if cord.name == seen else cord for cord in (choice.core, *choice.bellies)]
            choice = replace(choice, core=inner[0], bellies=tuple(inner[1:]), overlay=(outside,))
        maker = list(self.makers)[int(rng.integers(len(self.makers)))]
        real = lay_out(rng, label, maker, choice, self.habits, self._size)
        whip_pull = self.makers[maker] + PULL_SD * float(rng.normal())
        layer_pull = self.habits.layer_pull_sd * rng.normal(size=len(real.layers) + 1)
        drift = self.habits.drift_sd * float(rng.normal())

        def pulled(at_mm: float, after_layer: int | None, condition: str | None) -> float:
            along = 2 * at_mm / (real.thong_length_mm or 1.0) - 1
            pull = whip_pull + CONDITIONS[condition or "rolled"] + drift * along
            stack = stack_at(real, at_mm, self.catalogue, after_layer)
            return outer_mm(self.mechanics, stack, self.hidden, lambda slot: pull + float(layer_pull[slot]))

        real = replace(real, readings=measure(rng, real, self.habits, pulled))
        noted = blurred(rng, real) if rng.random() < self.habits.count_ranges else real
        return MadeWhip(noted, real)

    def _size(self, whip: Whip, at_mm: float) -> float:
        try:
            stack = stack_at(whip, at_mm, self.catalogue)
        except StackNotKnownError:
            return 0.0
        return outer_mm(self.mechanics, stack, self.hidden)


def open_workshop(mechanics: Mechanics, seed: int, habits: Habits = PLAIN) -> Workshop:
    """A new workshop of these mechanics; everything that follows is drawn from ``seed``."""
    rng = _generator(seed, mechanics.name)
    pool = draw_pool(rng, mechanics.world)
    measured = {cord.name: as_measured(cord, rng, mechanics.world, ruler=habits.ruler) for cord in pool}
    pulls = rng.normal(0, habits.maker_sd, len(MAKERS))
    makers = {name: float(pull) for name, pull in zip(MAKERS[: habits.makers], pulls, strict=False)}
    return Workshop(mechanics, seed, habits, {cord.name: cord for cord in pool}, measured, makers)


def _generator(seed: int, *names: str) -> np.random.Generator:
    return np.random.default_rng([seed, *(zlib.crc32(name.encode()) for name in names)])


def readings_of(made: Sequence[MadeWhip]) -> Iterator[tuple[MadeWhip, Reading]]:
    for whip in made:
        for reading in whip.noted.readings:
            yield whip, reading


def floor_rmse(workshop: Workshop, made: Sequence[MadeWhip], without_quirks: Collection[str] = ()) -> float:
    """RMSE of log D of the finished readings when every stack's expected diameter for its maker is known."""
    squares = [
        math.log(reading.size_mm / expected) ** 2
        for whip, reading in readings_of(made)
        if reading.after_layer is None
        for expected in [
            workshop.expected_mm(
                whip.real_stack(reading, workshop.catalogue),
                whip.real.maker or "",
                reading.condition,
                without_quirks,
            )
        ]
    ]
    return math.sqrt(sum(squares) / len(squares))
