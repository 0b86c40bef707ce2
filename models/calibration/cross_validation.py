"""Cross-validation of the diameter model against three plain rivals on the same folds."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Protocol

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.conformal import (
    FEWEST_GROUPS,
    interval_scale,
    scales_without_own_group,
)
from plaitlog.models.calibration.evidence import (
    GROUPINGS,
    MODEL,
    Evidence,
    Grouping,
    GroupScore,
    Scores,
    Trial,
)
from plaitlog.models.calibration.folds import Fold, cords_of, folds, makers_of
from plaitlog.models.calibration.observations import Z50, Z90, Observation, Prediction, Query
from plaitlog.models.calibration.packed import Array
from plaitlog.models.calibration.rivals import all_rivals
from plaitlog.models.errors import Finding

SLIP: Final = float(np.log(1.5))
"""Half as thick again, or two thirds: physical reasoning, pull and cord move a plait by a tenth or two, a
lost decimal point, another unit or a girth noted as a diameter by a factor of 2 and more."""


class Fitted(Protocol):
    """A fitted model of the diameter."""

    def predict(self, queries: Sequence[Query]) -> list[Prediction]: ...


Fit = Callable[[Sequence[Observation]], Fitted]


@dataclass(frozen=True)
class CrossValidation:
    """The evidence, and the factors for interval widths where all cords are known and where one is new."""

    evidence: Evidence
    scale_known: float
    scale_new: float


def cross_validate(
    observations: Sequence[Observation],
    fit: Fit,
    *,
    groupings: Sequence[Grouping] = GROUPINGS,
    random_state: int = 0,
    jobs: int | None = None,
) -> CrossValidation:
    """Hold out whips, cords and makers in turn, and compare the model with its rivals on the same readings.

    By whip: five folds of whole whips. By cord: every cord in turn, only readings on stacks that contain it
    are judged. By maker: every maker in turn, where there are several. Coverage is that of the corrected
    intervals, each group's correction worked out from the other groups. A reading that model and rivals all
    miss by more than ``SLIP`` is a slip of the pen; it is judged for none of them, and counted.

    Parameters
    ----------
    fit : fits the model to some of the observations, without any correction of intervals. Called once a
        fold; it must be picklable when ``jobs`` asks for processes.
    jobs : for joblib; None leaves it to ``joblib.parallel_config``.

    Returns
    -------
    Where there are too few groups a trial is left out and a finding says so; nothing raises.
    """
    from joblib import Parallel, delayed

    findings: list[Finding] = []
    planned: list[Fold] = []
    for grouping in groupings:
        found, remarks = folds(observations, grouping, random_state)
        planned += found
        findings += remarks
    tasks = [delayed(_held_out)(observations, fold, fit, random_state) for fold in planned]
    results: list[_HeldOut] = list(Parallel(n_jobs=jobs)(tasks)) if tasks else []
    trials: list[Trial] = []
    scales: dict[Grouping, float] = {}
    for grouping in groupings:
        parts = [part for part in results if part.grouping == grouping]
        if parts:
            held = _joined(parts)
            sound = held.without(held.slips)
            if not sound.groups:
                continue
            scales[grouping] = interval_scale(sound.z(MODEL), sound.groups)
            trials.append(_trial(sound, int(held.slips.sum())))
            findings += _remarks(trials[-1])
    evidence = Evidence(
        readings=len(observations),
        whips=len({observation.whip for observation in observations}),
        cords=len(cords_of(observations)),
        makers=len(makers_of(observations)),
        trials=tuple(trials),
        findings=tuple(findings),
    )
    return CrossValidation(evidence, scales.get("whip", 1.0), scales.get("cord", 1.0))


@dataclass(frozen=True)
class _HeldOut:
    """Held-out readings: log of what was measured, and (log D, standard deviation) by contender."""

    grouping: Grouping
    groups: tuple[str, ...]
    measured_log: Array
    measured_mm: Array
    predicted: Mapping[str, tuple[Array, Array]]

    def error(self, name: str) -> Array:
        return np.asarray(self.measured_log - self.predicted[name][0])

    def z(self, name: str) -> Array:
        return np.asarray(self.error(name) / self.predicted[name][1])

    @property
    def slips(self) -> NDArray[np.bool_]:
        """Readings that every contender misses by more than ``SLIP``."""
        missed = [np.abs(self.error(name)) > SLIP for name in self.predicted]
        return np.asarray(np.logical_and.reduce(missed))

    def without(self, left_out: NDArray[np.bool_]) -> "_HeldOut":
        keep = ~left_out
        return _HeldOut(
            self.grouping,
            tuple(group for group, kept in zip(self.groups, keep.tolist(), strict=True) if kept),
            self.measured_log[keep],
            self.measured_mm[keep],
            {name: (mean[keep], sd[keep]) for name, (mean, sd) in self.predicted.items()},
        )


def _held_out(observations: Sequence[Observation], fold: Fold, fit: Fit, random_state: int) -> _HeldOut:
    train = [observations[int(i)] for i in fold.train]
    test = [observations[int(i)] for i in fold.test]
    told = fit(train).predict([_query(observation) for observation in test])
    predicted: dict[str, tuple[Array, Array]] = {
        MODEL: (np.log([p.diameter_mm for p in told]), np.array([p.sd_log for p in told]))
    }
    for rival in all_rivals(random_state):
        predicted[rival.name] = rival.fit(train).predict(test)
    measured = np.array([observation.diameter_mm for observation in test])
    return _HeldOut(fold.grouping, fold.groups, np.log(measured), measured, predicted)


def _query(observation: Observation) -> Query:
    return Query(
        stack=observation.stack,
        maker=observation.maker,
        condition=observation.condition,
        at_mm=observation.at_mm,
        inner=observation.inner,
    )


def _joined(parts: Sequence[_HeldOut]) -> _HeldOut:
    return _HeldOut(
        parts[0].grouping,
        tuple(group for part in parts for group in part.groups),
        np.concatenate([part.measured_log for part in parts]),
        np.concatenate([part.measured_mm for part in parts]),
        {
            name: (
                np.concatenate([part.predicted[name][0] for part in parts]),
                np.concatenate([part.predicted[name][1] for part in parts]),
            )
            for name in parts[0].predicted
        },
    )


def _trial(held: _HeldOut, slips: int) -> Trial:
    own: Any = scales_without_own_group(held.z(MODEL), held.groups)
    names = tuple(held.predicted)
    scores = {name: _scores(held, name, own if name == MODEL else 1.0) for name in names}
    groups = np.array(held.groups)
    by_group = tuple(
        GroupScore(
            group=str(group),
            readings=int(np.sum(groups == group)),
            rmse_log={name: _rms(held.error(name)[groups == group]) for name in names},
        )
        for group in np.unique(groups)
    )
    return Trial(held.grouping, len(groups), scores, by_group, slips)


def _scores(held: _HeldOut, name: str, scale: Any) -> Scores:
    z = held.z(name) / scale
    mean, sd = held.predicted[name]
    return Scores(
        rmse_log=_rms(held.error(name)),
        median_mm=float(np.median(np.abs(held.measured_mm - np.exp(mean)))),
        coverage_50=float(np.mean(np.abs(z) <= Z50)),
        coverage_90=float(np.mean(np.abs(z) <= Z90)),
        log_score=float(np.mean(-0.5 * np.log(2 * np.pi) - np.log(sd * scale) - z**2 / 2)),
    )


def _rms(error: Array) -> float:
    return float(np.sqrt(np.mean(error**2)))


def _remarks(trial: Trial) -> list[Finding]:
    found = []
    where = f"by {trial.grouping}"
    if trial.winner != MODEL:
        best, own = trial.scores[trial.winner].rmse_log, trial.model.rmse_log
        text = f"{trial.winner} comes nearer than the fit: {best:.3f} against {own:.3f} in log D"
        remedy = "record more whips, and take such predictions with care"
        found.append(Finding("rival-wins", text, remedy, where))
    if len(trial.groups) < FEWEST_GROUPS:
        text = f"only {len(trial.groups)} could be held out: the coverage of the intervals is a rough figure"
        found.append(Finding("few-groups", text, "record more", where))
    return found
