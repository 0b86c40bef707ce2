"""Cross-validation of the diameter model against three plain rivals on the same folds."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from plaitlog.models.calibration.evidence import GROUPINGS, AtFewWhips, Evidence, Grouping, HeldReading, Kind
from plaitlog.models.calibration.folds import Fold, few_whips_folds, folds
from plaitlog.models.calibration.held_out import Fit, HeldOut, contest, joined
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.prepared import readings_of_cords
from plaitlog.models.calibration.readings import Readings, readings
from plaitlog.models.calibration.sampling import sample_of_whips
from plaitlog.models.calibration.scoring import drawn_of, few_whips_of, remarks, trial_of
from plaitlog.models.calibration.single_readings import observations as observations_of
from plaitlog.models.errors import Finding

MOST_READINGS: Final = 20_000
"""Above so many readings a seeded sample of whips is cross-validated."""
TASKS: Final = 12
"""Folds are worked on in so many tasks at most."""
KINDS: Final[tuple[Kind, ...]] = ("whip", "rest", "cord", "maker")


@dataclass(frozen=True)
class IntervalScales:
    """Factors for interval widths, each from the trial that asks the same: a whip of known cords, a stack
    with a new cord, an unknown maker, the rest of a measured whip.

    1 where no correction can be claimed; an unknown maker then takes that of known cords.
    """

    known: float = 1.0
    new: float = 1.0
    maker: float = 1.0
    rest: float = 1.0


@dataclass(frozen=True)
class CrossValidation:
    """The evidence, and what it corrects interval widths with."""

    evidence: Evidence
    scales: IntervalScales


def cross_validate(
    data: Sequence[Observation] | Readings,
    fit: Fit,
    *,
    groupings: Sequence[Grouping] = GROUPINGS,
    few_whips: Sequence[int] = (8, 20),
    random_state: int = 0,
    jobs: int | None = None,
    tell: Callable[[int, int], None] = lambda done, total: None,
) -> CrossValidation:
    """Hold out whips, cords and makers in turn, and compare the model with its rivals on the same readings.

    By whip: five folds of whole whips; then the rest of each once its first readings are taken. By cord:
    every cord in turn (above 20 cords in 20 folds, and a finding says so), only readings on stacks that
    contain it are judged. By maker: every maker in turn,
    where there are several. Coverage is that of the corrected intervals, each group's correction worked out
    from the other groups. A reading that model and rivals all miss by more than ``SLIP`` is a slip of the
    pen; it is judged for none of them, and counted. Above 20,000 readings a seeded sample of whips stands for
    all.

    Parameters
    ----------
    fit : fits the model to some of the observations, without any correction of intervals. Called once a
        fold; it must be picklable when ``jobs`` asks for processes.
    few_whips : numbers of whips, drawn at random, that predict the others: what so many would have taught.
    jobs : for joblib; None leaves it to ``joblib.parallel_config``, which may name a cluster.
    tell : told how many parts of how many are done, again and again.

    Returns
    -------
    Where there are too few groups a trial is left out and a finding says so; nothing raises.
    """
    from joblib import Parallel, delayed

    judged = _judged(data, MOST_READINGS, random_state)
    findings: list[Finding] = []
    planned: list[Fold] = []
    for grouping in groupings:
        found, told = folds(judged, grouping, random_state)
        planned += found
        findings += told
    small = few_whips_folds(judged, few_whips, random_state) if "whip" in groupings else {}
    every = [*planned, *small.values()]
    # The readings go to another process with each task, not with each fold.
    tasks = [every[first::TASKS] for first in range(min(TASKS, len(every)))]
    wanted = (delayed(_contests)(judged, task, fit, random_state) for task in tasks)
    done = Parallel(n_jobs=jobs, return_as="generator")(wanted)
    results: list[list[HeldOut]] = [[] for _ in every]
    for first, found_there in enumerate(done):
        results[first::TASKS] = found_there
        tell(first + 1, len(tasks))
    by_kind: dict[Kind, HeldOut] = {}
    for kind in KINDS:
        parts = [held for part in results[: len(planned)] for held in part if held.kind == kind]
        if parts:
            by_kind[kind] = joined(parts)
    found_trials = {kind: trial_of(held) for kind, held in by_kind.items()}
    trials = tuple(trial for trial in found_trials.values() if trial is not None)
    findings += [remark for trial in trials for remark in remarks(trial)]
    told_few = [few_whips_of(n, part[0]) for n, part in zip(small, results[len(planned) :], strict=True)]
    columns = readings(data)
    is_sample = len(judged) < len(columns)
    evidence = Evidence(
        readings=len(columns),
        whips=len(np.unique(columns.whip)),
        cords=len(readings_of_cords(columns)),
        makers=len(np.unique(columns.maker[columns.maker >= 0])),
        trials=trials,
        findings=tuple(findings),
        few_whips=tuple(one for one in told_few if isinstance(one, AtFewWhips)),
        sample_whips=len({observation.whip for observation in judged}) if is_sample else None,
        sample_readings=len(judged) if is_sample else None,
        held_out=_drawn(by_kind, random_state),
    )
    claimed: dict[Kind, float] = {trial.grouping: trial.scale for trial in trials if trial.scale is not None}
    known = claimed.get("whip", 1.0)
    scales = IntervalScales(
        known, claimed.get("cord", 1.0), claimed.get("maker", known), claimed.get("rest", 1.0)
    )
    return CrossValidation(evidence, scales)


def _contests(
    observations: Sequence[Observation], task: Sequence[Fold], fit: Fit, random_state: int
) -> list[list[HeldOut]]:
    return [contest(observations, fold, fit, random_state) for fold in task]


def _judged(data: Sequence[Observation] | Readings, most: int, random_state: int) -> Sequence[Observation]:
    """All readings one by one, or those of a seeded sample of whips where there are more than ``most``."""
    if len(data) > most:
        columns = readings(data)
        data = columns.of_whips(sample_of_whips(columns, most, random_state))
    return observations_of(data) if isinstance(data, Readings) else data


def _drawn(by_kind: dict[Kind, HeldOut], random_state: int) -> tuple[HeldReading, ...]:
    held = by_kind.get("whip")
    return () if held is None else drawn_of(held, random_state)
