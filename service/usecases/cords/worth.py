"""What each measurement that a cord lacks would buy, by really predicting with and without it."""

from dataclasses import dataclass, replace
from typing import Any, Final

from plaitlog.models.calibration.packed import PRESSED
from plaitlog.models.calibration.prediction import Prediction, Query
from plaitlog.models.geometry import (
    cord_diameter_mm,
    fibre_density,
    flat_width_mm,
    strand_area_mm2,
)
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Cord, exactly
from plaitlog.service.usecases.cords.measures import LACKS, lacks
from plaitlog.service.usecases.predicting import InForce

SHOWN_CORE: Final = 6
"""Strands in the core of the stack that is shown; its overlay is the count nearest to a cover of 0.9."""
SHOWN_COVER: Final = 0.9
LIES_FLATTER: Final = 0.06
"""How much cords of one diameter differ in flat width (physical reasoning: about 6 per cent)."""


LEAST_NARROWER: Final = 0.01
"""Share of an interval below which its narrowing is not worth a word (own judgement)."""


@dataclass(frozen=True, slots=True)
class Gain:
    """What one measurement would do to the prediction of the stack that is shown."""

    key: str
    how: str
    before: Prediction
    after: Prediction
    shift_mm: float

    @property
    def narrower(self) -> float:
        """Share of the 90 % interval that goes."""
        return 1 - _half(self.after) / _half(self.before)

    @property
    def tells(self) -> bool:
        """Whether it narrows the interval, or moves a figure shown to a tenth of a millimetre."""
        return self.narrower >= LEAST_NARROWER or self.shift_mm >= 0.05

    @property
    def words(self) -> str:
        was, now = _half(self.before), _half(self.after)
        moves = f"moves the figure by up to {self.shift_mm:.1f} mm, as cords of one diameter differ"
        if self.narrower >= LEAST_NARROWER:
            share = f"{100 * self.narrower:.0f} %"
            narrows = f"narrows the 90 % interval by {share}, from ± {was:.2f} mm to ± {now:.2f} mm"
            return f"{narrows}, and {moves}" if self.shift_mm >= 0.05 else narrows
        return moves if self.shift_mm >= 0.05 else "changes little here"


def _half(prediction: Prediction) -> float:
    return (prediction.high_90_mm - prediction.low_90_mm) / 2


@dataclass(frozen=True, slots=True)
class Shown:
    """The stack shown for a cord: six strands of it in the core under an overlay of it."""

    core: int
    overlay: int
    prediction: Prediction
    gains: tuple[Gain, ...]

    def to_json(self) -> dict[str, Any]:
        told = self.prediction
        return {
            "core": self.core,
            "overlay": self.overlay,
            "diameter_mm": told.diameter_mm,
            "low_90_mm": told.low_90_mm,
            "high_90_mm": told.high_90_mm,
            "lacks": [
                {
                    "key": gain.key,
                    "how": gain.how,
                    "low_90_mm": gain.after.low_90_mm,
                    "high_90_mm": gain.after.high_90_mm,
                    "shift_mm": gain.shift_mm,
                }
                for gain in self.gains
            ],
        }


def what_it_buys(in_force: InForce, cord: Cord, maker: str | None = None) -> Shown:
    """A typical stack of this cord predicted as it is, and as if each missing measurement were there.

    A missing measurement is set to what is assumed without it, so that only the certainty differs. With a
    maker for the hands of that maker.
    """
    counts = range(8, 26, 2)
    tried = in_force.predict([typical(cord, count, maker) for count in counts])
    overlay, prediction = min(
        zip(counts, tried, strict=True), key=lambda pair: abs((pair[1].cover or 0.0) - SHOWN_COVER)
    )
    keys = lacks(cord)
    filled = [filled_in(cord, key) for key in keys]
    after = in_force.predict([typical(other, overlay, maker) for other in filled])
    flatter = [
        in_force.predict(
            [
                typical(replace(cord, flat_width_mm=flat_width_mm(cord) * factor), overlay, maker)
                for factor in (1 - LIES_FLATTER, 1 + LIES_FLATTER)
            ]
        )
        if key == "flat_width_mm"
        else None
        for key in keys
    ]
    gains = tuple(
        Gain(
            key,
            LACKS[key],
            prediction,
            now,
            max((abs(x.diameter_mm - prediction.diameter_mm) for x in moved or ()), default=0.0),
        )
        for key, now, moved in zip(keys, after, flatter, strict=True)
    )
    return Shown(SHOWN_CORE, overlay, prediction, tuple(sorted(gains, key=_most_first)))


def _most_first(gain: Gain) -> float:
    return _half(gain.after) - gain.shift_mm


def filled_in(cord: Cord, key: str) -> Cord:
    """The cord with a missing measurement set to what the geometry takes for it."""
    area = strand_area_mm2(cord)
    if key == "linear_density_g_per_m":
        return replace(cord, linear_density_g_per_m=area * fibre_density(cord))
    if key == "flat_width_mm":
        return replace(cord, flat_width_mm=flat_width_mm(cord))
    if key == "diameter_mm":
        return replace(cord, diameter_mm=cord_diameter_mm(cord))
    return replace(cord, pressed_mm=area / (PRESSED * flat_width_mm(cord)))


def typical(cord: Cord, overlay: int, maker: str | None = None) -> Query:
    """The stack that is shown for a cord: a core of it under so many strands of it."""
    return Query(
        maker=maker,
        stack=Stack(
            (
                StackLayer(role="core", groups=(StrandGroup(cord, exactly(SHOWN_CORE)),), slot=1),
                StackLayer(role="overlay", groups=(StrandGroup(cord, exactly(overlay)),), slot=2),
            )
        ),
    )
