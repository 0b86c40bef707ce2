"""Figures over held-out readings: errors, coverage of the corrected intervals, the log score."""

from collections.abc import Iterator
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.conformal import (
    FEWEST_GROUPS,
    interval_scale,
    scales_without_own_group,
)
from plaitlog.models.calibration.evidence import (
    MODEL,
    AtFewWhips,
    Coverage,
    GroupScore,
    HeldReading,
    Scores,
    Trial,
)
from plaitlog.models.calibration.held_out import HeldOut
from plaitlog.models.calibration.observations import Z50, Z90
from plaitlog.models.calibration.packed import Array
from plaitlog.models.errors import Finding

DEEPEST: Final = 3
"""Stacks with more plaited layers are counted with these."""
MOST_DRAWN: Final = 400
"""Held-out readings kept to be drawn: more would not be told apart."""


def trial_of(held: HeldOut) -> Trial | None:
    """Scores of all contenders; None where none of the readings can be judged.

    The model's intervals are corrected for every group by what the other groups say, so the coverage is
    that of an honest correction; ``scale`` is the correction by all groups together.
    """
    sound = held.only(~held.slips)
    if not sound.groups:
        return None
    own = scales_without_own_group(sound.z(MODEL), sound.groups)
    names = np.array(sound.groups)
    groups = np.unique(names)
    scale = interval_scale(sound.z(MODEL), sound.groups) if len(groups) >= FEWEST_GROUPS else None
    return Trial(
        grouping=held.kind,
        readings=len(sound.groups),
        scores=_scores_of_all(sound, own),
        groups=tuple(
            GroupScore(
                group=str(group),
                readings=int(np.sum(names == group)),
                rmse_log={name: _rms(sound.error(name)[names == group]) for name in sound.predicted},
            )
            for group in groups
        ),
        slips=int(held.slips.sum()),
        scale=scale,
        covered=tuple(_covered(sound, own)),
    )


def few_whips_of(whips: int, held: HeldOut) -> AtFewWhips | None:
    """What a fit to so many whips is worth, its intervals as it claims them; None where nothing is judged."""
    sound = held.only(~held.slips)
    if not sound.groups:
        return None
    ones = np.ones(len(sound.groups))
    scores = _scores_of_all(sound, ones)
    return AtFewWhips(whips, len(sound.groups), scores, tuple(_covered(sound, ones)))


def drawn_of(held: HeldOut, random_state: int) -> tuple[HeldReading, ...]:
    """Readings to draw, at most 400, with the intervals that their trial judged; drawn at random if more."""
    sound = held.only(~held.slips)
    own = scales_without_own_group(sound.z(MODEL), sound.groups)
    mean, sd = sound.predicted[MODEL]
    half = Z90 * sd * own
    count = len(sound.groups)
    chosen = np.random.default_rng(random_state).permutation(count)[:MOST_DRAWN]
    return tuple(
        HeldReading(
            whip=sound.whips[k],
            at_mm=None if np.isnan(sound.at_mm[k]) else float(sound.at_mm[k]),
            depth=int(sound.depth[k]),
            new_cord=bool(sound.new_cord[k]),
            measured_mm=float(sound.measured_mm[k]),
            predicted_mm=float(np.exp(mean[k])),
            low_90_mm=float(np.exp(mean[k] - half[k])),
            high_90_mm=float(np.exp(mean[k] + half[k])),
        )
        for k in np.sort(chosen).tolist()
    )


def remarks(trial: Trial) -> Iterator[Finding]:
    """That a rival wins, that too few were held out to correct intervals by."""
    where = "on the rest of a whip" if trial.grouping == "rest" else f"by {trial.grouping}"
    if trial.winner != MODEL:
        best, own = trial.scores[trial.winner].rmse_log, trial.model.rmse_log
        text = f"{trial.winner} comes nearer than the fit: {best:.3f} against {own:.3f} in log D"
        yield Finding("rival-wins", text, "record more whips, and take such predictions with care", where)
    if len(trial.groups) < FEWEST_GROUPS:
        text = (
            f"only {len(trial.groups)} could be held out: no correction of the intervals can be claimed, "
            "and their coverage is a rough figure"
        )
        yield Finding("few-groups", text, "record more", where)


def _scores_of_all(held: HeldOut, scale: Array) -> dict[str, Scores]:
    return {name: _scores(held, name, scale if name == MODEL else 1.0) for name in held.predicted}


def _scores(held: HeldOut, name: str, scale: Array | float) -> Scores:
    z = held.z(name) / scale
    mean, sd = held.predicted[name]
    return Scores(
        rmse_log=_rms(held.error(name)),
        median_mm=float(np.median(np.abs(held.measured_mm - np.exp(mean)))),
        coverage_50=float(np.mean(np.abs(z) <= Z50)),
        coverage_90=float(np.mean(np.abs(z) <= Z90)),
        log_score=float(np.mean(-0.5 * np.log(2 * np.pi) - np.log(sd * scale) - z**2 / 2)),
    )


def _covered(held: HeldOut, scale: Array) -> Iterator[Coverage]:
    """Coverage of the model's intervals by stack depth, then by known and new cord."""
    z = np.abs(held.z(MODEL) / scale)
    depth = np.minimum(held.depth, DEEPEST)
    for layers in np.unique(depth).tolist():
        yield _coverage(
            "depth", f"{layers} or more" if layers == DEEPEST else str(layers), z[depth == layers]
        )
    for new in np.unique(held.new_cord).tolist():
        yield _coverage("cord", "new" if new else "known", z[held.new_cord == new])


def _coverage(split: Literal["depth", "cord"], level: str, z: NDArray[np.float64]) -> Coverage:
    return Coverage(split, level, len(z), float(np.mean(z <= Z50)), float(np.mean(z <= Z90)))


def _rms(error: Array) -> float:
    return float(np.sqrt(np.mean(error**2)))
