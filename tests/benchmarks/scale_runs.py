"""One measured run on a database, in its own process: ``python -m tests.benchmarks.scale_runs WHAT URL``.

It prints one line of JSON: seconds by step, counts, the highest memory of the process in MB, its processor
time in seconds (which other work on the machine hardly lengthens; that of a database server is not in it).
"""

import json
import resource
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Engine, event

from plaitlog.service.database import open_engine, reading, write

Seconds = dict[str, float]


@contextmanager
def timed(seconds: Seconds, step: str) -> Iterator[None]:
    started = time.perf_counter()
    yield
    seconds[step] = seconds.get(step, 0.0) + time.perf_counter() - started


def keeping(engine: Engine) -> dict[str, Any]:
    """The first filling: what every whip says to a fit, worked out from its rows."""
    from plaitlog.service.filling import fill_gathered

    seconds: Seconds = {}
    with timed(seconds, "keeping"):
        fill_gathered(engine)
    return {"seconds": seconds}


def refit(engine: Engine) -> dict[str, Any]:
    """A fit with everything kept: read, regression, stored. Without evidence."""
    seconds: Seconds = {}
    statements = _counted(engine)
    with timed(seconds, "loading libraries"):
        from plaitlog.service.filling import fill_gathered
        from plaitlog.service.usecases.fitting import gather, store, work_out
    with timed(seconds, "gathering"):
        fill_gathered(engine)
        with reading(engine) as session:
            gathered = gather(session)
    read = statements["count"]
    with timed(seconds, "regression"):
        worked = work_out(gathered, with_evidence=False)
    with timed(seconds, "storing"):
        write(engine, lambda session: store(session, worked))
    return {
        "seconds": seconds,
        "readings": len(gathered.readings),
        "whips": gathered.whips,
        "cords": len(worked.calibration.cords),
        "statements": read,
        "findings": sorted({finding.code for finding in worked.findings}),
    }


def evidence(engine: Engine, jobs: int = 2) -> dict[str, Any]:
    """A fit with evidence; the regression is in it once more."""
    from plaitlog.service.usecases.fitting import gather, work_out

    seconds: Seconds = {}
    with reading(engine) as session:
        gathered = gather(session)
    with timed(seconds, "regression and evidence"):
        work_out(gathered, jobs=jobs)
    return {"seconds": seconds}


def one_more_whip(engine: Engine) -> dict[str, Any]:
    """One whip of 13 readings into the fit in force, and its stacks predicted; the median of 20 times.

    The fit is in memory then, as it is in a server; reading it from the database is told beside it.
    """
    import numpy as np

    from plaitlog.models.calibration.observations import Query
    from plaitlog.models.calibration.prediction import predict
    from plaitlog.models.calibration.single_readings import observations
    from plaitlog.models.calibration.updating import updated
    from plaitlog.service.usecases.gathering import gather
    from plaitlog.service.usecases.predicting import fit_in_force

    seconds: Seconds = {}
    with reading(engine) as session:
        with timed(seconds, "loading the fit"):
            calibration = fit_in_force(session).calibration
        data = gather(session).readings
    times = []
    for number in range(20):
        chosen = np.array([(number * 37) % len(data.whips)])
        more = observations(data.of_whips(chosen))
        queries = [Query(stack=x.stack, maker=x.maker, at_mm=x.at_mm) for x in more]
        started = time.perf_counter()
        predict(updated(calibration, more), queries)
        times.append(time.perf_counter() - started)
    return {"seconds": {**seconds, "one more whip": float(np.median(times))}}


def _counted(engine: Engine) -> dict[str, int]:
    counted = {"count": 0}

    @event.listens_for(engine, "before_cursor_execute")
    def count(*_: Any) -> None:
        counted["count"] += 1

    return counted


RUNS: dict[str, Callable[[Engine], dict[str, Any]]] = {
    "keeping": keeping,
    "refit": refit,
    "evidence": evidence,
    "one-more": one_more_whip,
}


def main() -> None:
    what, url = sys.argv[1:]
    engine = open_engine(url)
    found = RUNS[what](engine)
    engine.dispose()
    used = resource.getrusage(resource.RUSAGE_SELF)
    found["memory_mb"] = used.ru_maxrss / 1024
    found["processor_s"] = used.ru_utime + used.ru_stime
    print(json.dumps(found))


if __name__ == "__main__":
    main()
