"""Folds carried to a Dask cluster by joblib: the same fit, the same numbers."""

import logging
import os
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import joblib
import pytest

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.cross_validation import cross_validate
from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.observations import Observation
from tests.calibration.laid_whips import whips

distributed = pytest.importorskip("distributed", reason="needs the extra cluster: dask[distributed]")

EFFECTS = {"Ridge": 0.05, "Fell": -0.04, "Tarn": 0.1}


def fold(observations: Sequence[Observation], *, start: Calibration) -> DiameterModel:
    return DiameterModel().fit(observations, start=start)


@pytest.fixture
def cluster(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """Two workers, each a process of its own."""
    # Workers begin afresh, and must find the tests.
    root = str(Path(__file__).resolve().parents[2])
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([root, os.environ.get("PYTHONPATH", "")]))
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=None, silence_logs=logging.ERROR
        ) as made,
        distributed.Client(made) as client,
    ):
        yield client


@pytest.mark.filterwarnings("ignore")  # what a cluster warns of while it closes is not this project's doing
def test_a_cluster_finds_the_same_numbers(cluster: Any) -> None:
    notebook = whips(6, EFFECTS, seed=3)
    calibration = DiameterModel().fit(notebook).calibration_
    fit = partial(fold, start=calibration)
    alone = cross_validate(notebook, fit, groupings=["whip"])
    with joblib.parallel_config(backend="dask", wait_for_workers_timeout=60):
        spread = cross_validate(notebook, fit, groupings=["whip"])
    assert spread.evidence.to_dict() == alone.evidence.to_dict()
    assert spread.scales == alone.scales
    assert len(cluster.run(_tasks_done)) == 2
    assert sum(cluster.run(_tasks_done).values()) >= 5


def _tasks_done(dask_worker: Any) -> int:
    done: int = dask_worker.state.executed_count
    return done
