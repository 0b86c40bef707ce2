"""How long the heavy work takes, each figure beside its goal. Wall time of one run each."""

import io
import json
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.observations import Observation, Query
from plaitlog.models.calibration.readings import readings
from plaitlog.service.database import writing
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.fitting import work_out
from plaitlog.service.usecases.gathering import Gathered
from plaitlog.service.usecases.importing import import_lines
from plaitlog.service.usecases.to_records import cord_record, whip_record
from tests.benchmarks.observe import asked, observed
from tests.benchmarks.workshops import HELD_OUT
from tests.benchmarks.workshops.habits import STATIONS
from tests.benchmarks.workshops.workshop import MadeWhip, Workshop, open_workshop

MANY_WHIPS = 770
PREDICTIONS = 100_000


@dataclass(frozen=True, slots=True)
class Figure:
    """One measured figure; ``at_least``: the goal is a lower bound (a rate), else an upper one (seconds)."""

    what: str
    value: float
    goal: float
    unit: str
    at_least: bool = False

    @property
    def reached(self) -> bool:
        return self.value >= self.goal if self.at_least else self.value <= self.goal

    def __str__(self) -> str:
        mark = "" if self.reached else "   MISSED"
        return f"{self.what:<52}{self.value:>10.2f}{self.goal:>10.0f} {self.unit}{mark}"


def figures(quick: bool = False, jobs: int | None = None) -> Iterator[Figure]:
    """Import, regression, predictions and evidence, one after the other. ``quick`` leaves out the largest."""
    workshop = open_workshop(HELD_OUT[0], 0)
    made = workshop.make(60 if quick else MANY_WHIPS, "recorded")
    yield import_rate(workshop, made)
    sixty = observed(workshop, made[:60])
    model = DiameterModel()
    yield Figure("regression of 60 whips", _seconds(lambda: model.fit(sixty)), 3, "s")
    yield predictions(model, sixty)
    gathered = Gathered(readings(sixty), {}, 0, 60, "")
    yield Figure("fit and evidence of 60 whips", _seconds(lambda: work_out(gathered, jobs=jobs)), 30, "s")
    if not quick:
        many = observed(workshop, made)
        what = f"regression of {len(many)} readings"
        yield Figure(what, _seconds(lambda: DiameterModel().fit(many)), 10, "s")


def import_rate(workshop: Workshop, made: tuple[MadeWhip, ...]) -> Figure:
    """Readings a second of a file of whips with layers and 13 readings each, into a new SQLite database."""
    cords = [cord_record(cord) for cord in workshop.catalogue.values()]
    whips = [whip_record(whip.noted) for whip in made]
    text = "".join(json.dumps(record) + "\n" for record in [*cords, *whips])
    with tempfile.TemporaryDirectory() as folder:
        engine, _ = ready_engine(f"sqlite:///{Path(folder) / 'speed.sqlite'}")

        def run() -> None:
            with writing(engine) as session:
                import_lines(session, io.BytesIO(text.encode()))

        seconds = _seconds(run)
        engine.dispose()
    rate = len(made) * STATIONS / seconds
    return Figure(f"import of {len(made)} whips on SQLite", rate, 5000, "readings/s", at_least=True)


def predictions(model: DiameterModel, observations: list[Observation]) -> Figure:
    queries: list[Query] = []
    while len(queries) < PREDICTIONS:
        queries += [asked(observation) for observation in observations]
    queries = queries[:PREDICTIONS]
    return Figure(f"{len(queries)} predictions", _seconds(lambda: model.predict(queries)), 5, "s")


def _seconds(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return time.perf_counter() - started
