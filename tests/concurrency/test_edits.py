"""Eight at once edit the same whips while others look and one fits: no error, and no edit is lost.

An edit that rests on an old version is refused; whoever made it looks again and edits anew, as a person
would. So in the end every whip has been counted up exactly as often as edits were taken.
"""

import multiprocessing
import random
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from sqlalchemy import Engine, func, select, text

from plaitlog.models.errors import BusyDatabaseError, StaleEditError
from plaitlog.models.tables import HistoryRow
from plaitlog.service.database import open_engine, reading, write
from plaitlog.service.filling import fill_gathered
from plaitlog.service.usecases.changes.editing import edit_whip
from plaitlog.service.usecases.exporting import export_lines
from plaitlog.service.usecases.fitting import gather, store, work_out
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.workshop import whip_with_version, whips_in_brief
from tests.crash.length import LONG
from tests.usecases.examples import RIDGE

EDITORS, READERS, WHIPS = 8, 2, 5
EDITS = {"sqlite": 250 if LONG else 12, "postgresql": 40 if LONG else 4}
LONGEST_WAIT_S = 2.0
MODULES = ["plaitlog.service.usecases.changes.editing", "plaitlog.service.usecases.fitting", __name__]


@dataclass
class Seen:
    """What one process has to tell."""

    edits: int = 0
    looks: int = 0
    stale: int = 0
    waits_s: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)


def whip(number: int) -> dict[str, Any]:
    readings = [{"at_mm": 100 * n, "diameter_mm": 20.0 - n} for n in range(8)]
    layers = [{"role": "overlay", "cord": "Ridge 4 mm", "strands": [[0, 16], [900, 12]]}]
    known = {"layers_complete": True, "foundation": "none", "build_number": 0}
    return {"kind": "whip", "label": f"w{number}", "layers": layers, "readings": readings, **known}


def edit(database: str, number: int, edits: int, results: "multiprocessing.Queue[Seen]") -> None:
    """Count whips up, one at a time, each edit resting on the version that was looked at."""
    engine, seen, chance = open_engine(database), Seen(), random.Random(number)
    while seen.edits < edits:
        label = f"w{chance.randrange(WHIPS)}"
        began = None
        try:
            with reading(engine) as session:
                version, found = whip_with_version(session, label)
            assert found.build_number is not None
            changes = {"build_number": found.build_number + 1}
            change = partial(edit_whip, label=label, changes=changes, version=version)
            began = time.monotonic()
            # Who wants to say what another has just said is not refused, and changes nothing.
            if write(engine, change).number is None:
                seen.stale += 1
            else:
                seen.edits += 1
        except StaleEditError:
            seen.stale += 1
        except BusyDatabaseError as error:
            if engine.dialect.name == "sqlite":
                seen.errors.append(repr(error))
        except Exception as error:
            seen.errors.append(repr(error))
            break
        if began is not None:
            seen.waits_s.append(time.monotonic() - began)
    engine.dispose()
    results.put(seen)


def look(database: str, done: Any, results: "multiprocessing.Queue[Seen]") -> None:
    """List and export, over and over; every state that is seen is whole."""
    engine, seen = open_engine(database), Seen()
    while not done.is_set():
        try:
            with reading(engine) as session:
                assert len(whips_in_brief(session)) == WHIPS
                assert sum(1 for _ in export_lines(session)) == 1 + WHIPS
            seen.looks += 1
            time.sleep(0.05)
        except Exception as error:
            seen.errors.append(repr(error))
            break
    engine.dispose()
    results.put(seen)


def fit(database: str, done: Any, results: "multiprocessing.Queue[Seen]") -> None:
    engine, seen = open_engine(database), Seen()
    try:
        fill_gathered(engine)
        with reading(engine) as session:
            gathered = gather(session)
        worked = work_out(gathered, with_evidence=False)
        write(engine, lambda session: store(session, worked))
        seen.looks = 1
    except Exception as error:
        seen.errors.append(repr(error))
    engine.dispose()
    results.put(seen)


def test_no_error_and_no_lost_edit(
    engine: Engine, empty_database: str, record_property: Callable[[str, object], None]
) -> None:
    write(engine, lambda session: take_records(session, [RIDGE, *map(whip, range(WHIPS))]))
    edits = EDITS[engine.dialect.name]
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(MODULES)
    results: multiprocessing.Queue[Seen] = context.Queue()
    done = context.Event()
    editors = [
        context.Process(target=edit, args=(empty_database, number, edits, results))
        for number in range(EDITORS)
    ]
    others = [
        context.Process(target=work, args=(empty_database, done, results))
        for work in [look] * READERS + [fit]
    ]
    for process in (*editors, *others):
        process.start()
    seen = [results.get(timeout=550) for _ in range(EDITORS + 1)]  # editors and fit end by themselves
    done.set()
    seen += [results.get(timeout=60) for _ in range(READERS)]
    for process in (*editors, *others):
        process.join()
    assert [error for one in seen for error in one.errors] == []
    waits = sorted(wait for one in seen for wait in one.waits_s)
    worst = waits[int(0.99 * len(waits))]
    figures = (
        f"{sum(one.edits for one in seen)} edits by {EDITORS} at once, {sum(one.stale for one in seen)} stale"
        f" and done again, p99 wait {worst:.2f} s, longest {waits[-1]:.2f} s,"
        f" {sum(one.looks for one in seen)} looks and a fit meanwhile, 0 errors, 0 lost"
    )
    record_property(engine.dialect.name, figures)
    print(f"{engine.dialect.name}: {figures}")
    assert counted(engine) == EDITORS * edits
    if engine.dialect.name == "sqlite" or LONG:  # serializable writers pause before they try again
        assert worst < LONGEST_WAIT_S


def counted(engine: Engine) -> int:
    """How often whips were counted up; the history knows of as many edits."""
    with reading(engine) as session:
        total = sum(whip_with_version(session, f"w{n}")[1].build_number or 0 for n in range(WHIPS))
        edits = select(func.count()).select_from(HistoryRow).where(HistoryRow.action == "edit")
        assert session.scalar(edits) == total
        if engine.dialect.name == "sqlite":
            assert session.execute(text("PRAGMA integrity_check")).scalar() == "ok"
    return total
