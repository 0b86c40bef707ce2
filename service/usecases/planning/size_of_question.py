"""How long a question takes to plan, before it is planned: short ones are answered at once."""

from typing import Final

from plaitlog.models.planning.asked import Asked
from plaitlog.service.usecases.planning.asking import work_of
from plaitlog.service.usecases.planning.plan import with_run_starts

A_SECOND: Final = 2.5e7
"""States times nodes that are looked at in a second (as measured; the same as beside ``Rules.most_work``)."""
SIDE_BY_SIDE: Final = 6
"""About so many plans are made where others are wanted beside the one that is asked for."""
AT_ONCE_S: Final = 1.0
"""What takes no longer is answered while one waits (own choice)."""


def expected_seconds(asked: Asked, *, beside: bool = False) -> float:
    """About how long it takes, s; ``beside``: with other good plans. It grows with the product of the counts
    that each layer may have and of the distances that its drops keep."""
    return work_of(asked) * len(with_run_starts(asked)) * (SIDE_BY_SIDE if beside else 1) / A_SECOND


def takes_long(asked: Asked, *, beside: bool = False) -> bool:
    return expected_seconds(asked, beside=beside) > AT_ONCE_S
