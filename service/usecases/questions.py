"""Many predictions asked for one by one and worked out at once."""

import math
from dataclasses import dataclass, field

from plaitlog.models.calibration.observations import Z90
from plaitlog.models.calibration.prediction import Prediction, Query
from plaitlog.service.usecases.predicting import InForce


@dataclass(slots=True)
class Questions:
    """Queries so far, and their answers once ``answer`` was called."""

    queries: list[Query] = field(default_factory=list)
    numbers: dict[Query, int] = field(default_factory=dict)
    answers: list[Prediction] = field(default_factory=list)

    def ask(self, query: Query) -> int:
        """The number under which the answer is found; the same for the same question."""
        number = self.numbers.setdefault(query, len(self.queries))
        if number == len(self.queries):
            self.queries.append(query)
        return number

    def answer(self, in_force: InForce) -> None:
        self.answers = in_force.predict(self.queries)

    def half_mm(self, number: int) -> float:
        """Half the width of the 90 % interval for the next caliper reading."""
        told = self.answers[number]
        return (told.high_90_mm - told.low_90_mm) / 2

    def sd_log(self, number: int) -> float:
        """Standard deviation of log diameter that the 90 % interval stands for."""
        told = self.answers[number]
        return math.log(told.high_90_mm / told.low_90_mm) / (2 * Z90)
