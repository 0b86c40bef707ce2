"""Which long work there is, and what each piece of it is: a module with ``work``.

``work(engine, asked, tell)`` works out what was asked for, outside of any transaction that others would
wait for, and gives a function that writes the outcome down; it is called in the one transaction that marks
the job done.
"""

from collections.abc import Callable, Mapping
from typing import Any, Final, NamedTuple

from sqlalchemy import Engine
from sqlalchemy.orm import Session

Tell = Callable[[str, float], None]
"""``tell(words, done_share)``: what goes on now, and the share in 0..1 that is done."""
Finish = Callable[[Session], Mapping[str, Any]]
"""Writes what was worked out and gives the result, as plain data; ``result["address"]`` is where a page leads
to, and ``{number}`` in it stands for the number of the job."""
Work = Callable[[Engine, Mapping[str, Any], Tell], Finish]


class Kind(NamedTuple):
    """``module`` has ``work``, and is loaded by the process that works; ``words`` is what a page calls it,
    ``page`` where it is begun.

    heavy : it keeps a processor busy all the time, so one such job runs at a time; of the others, which wait
    for the database mostly, one runs beside it.
    """

    module: str
    words: str
    heavy: bool = True
    page: str = "/"


KINDS: Final[Mapping[str, Kind]] = {
    "fit": Kind("plaitlog.service.work.fit", "Fit", page="/fit"),
    "fit-check": Kind("plaitlog.service.work.fit_check", "A look beside the fit", page="/fit"),
    "plan": Kind("plaitlog.service.work.plan", "Plan", page="/plan"),
    "demo": Kind("plaitlog.service.work.demo", "The demo"),
    "handling": Kind("plaitlog.service.work.handling", "What goes with good ratings", page="/handling"),
    "import": Kind("plaitlog.service.work.import_", "Import", page="/import"),
}
