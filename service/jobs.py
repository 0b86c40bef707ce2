"""Long work in processes of their own, while pages go on: started, watched, cancelled here.

One heavy job runs at a time; further ones wait in the order in which they were asked for. The rows of jobs
are in the database; here is only which process works on which.
"""

import sys
import time
import traceback
from collections.abc import Mapping
from contextlib import suppress
from functools import partial
from multiprocessing import get_context
from multiprocessing.context import SpawnProcess
from queue import SimpleQueue
from threading import Lock, Thread
from typing import Any, Final

from sqlalchemy import Engine
from sqlalchemy.exc import SQLAlchemyError

from plaitlog.models.errors import BusyDatabaseError, DatabaseError
from plaitlog.service.database import reading, write
from plaitlog.service.usecases.jobs import LEFT, ask_for, end, interrupt, live_jobs, one_job, take_up
from plaitlog.service.work.kinds import KINDS, Kind
from plaitlog.service.work.running import run

Ending = tuple[str, str]
"""The state in which a job ends, and the words for it."""
CANCELLED: Final[Ending] = ("cancelled", "cancelled; nothing of it was kept")
INTERRUPTED: Final[Ending] = ("interrupted", LEFT)
NOT_BEGUN: Final[Ending] = ("failed", "it could not be begun; start it again")
PATIENCE_S: Final = 5.0
ASKED_AGAIN_S: Final = 0.1
Queue = SimpleQueue[tuple[int, Kind] | None]


class Jobs:
    """The long work of one server.

    engine : of the database that holds the rows. busy_timeout_s : as that of the server. kinds : which work
    there is.
    """

    def __init__(
        self, engine: Engine, *, busy_timeout_s: float = 10.0, kinds: Mapping[str, Kind] = KINDS
    ) -> None:
        self._engine = engine
        self._busy_timeout_s = busy_timeout_s
        self._kinds = kinds
        self._lock = Lock()
        self._queues: dict[bool, Queue] = {}
        self._threads: list[Thread] = []
        self._processes: dict[int, SpawnProcess] = {}
        self._endings: dict[int, Ending] = {}
        self._own: set[int] = set()
        self._closed = False

    def open(self) -> None:
        """Mark what an earlier server left unfinished; called once, before the first request.

        There is one server to a database: the jobs of another one that still runs are ended by this.
        """
        with reading(self._engine) as session:
            left = live_jobs(session)
        if not left:
            return
        try:
            write(self._engine, partial(interrupt, numbers=left))
        except BusyDatabaseError:  # nobody waits for the server because somebody else writes for long
            Thread(target=self._mark_all, args=(left,), daemon=True, name="jobs-left").start()

    def start(self, kind: str, asked: Mapping[str, Any]) -> int:
        """Have work done: the number of its row, at once. The same asked for twice is one job."""
        found = self._kinds[kind]
        number, is_new = write(self._engine, lambda session: ask_for(session, kind, asked))
        if is_new:
            self._own.add(number)
            self._queue(found.heavy).put((number, found))
        return number

    def cancel(self, number: int) -> None:
        """End a job at once, nothing of it is kept; one that has ended stays as it is.

        Raises
        ------
        NotFoundError
            There is no such job.
        """
        with reading(self._engine) as session:
            if not one_job(session, number).live:
                return
        self._stop(number, CANCELLED)

    def close(self) -> None:
        """End every process of this server; what they worked on is marked interrupted."""
        with self._lock:
            self._closed = True
            running = list(self._processes)
            queues = list(self._queues.values())
        for queue in queues:
            queue.put(None)
        for number in running:
            self._stop(number, INTERRUPTED)
        for thread in self._threads:
            thread.join(PATIENCE_S)
        if self._own:
            with suppress(DatabaseError, SQLAlchemyError):  # the next start does it as well
                write(self._engine, partial(interrupt, numbers=self._own))  # what waited

    def _queue(self, heavy: bool) -> Queue:
        with self._lock:
            if heavy not in self._queues:
                queue = self._queues[heavy] = SimpleQueue()
                thread = Thread(target=self._work_off, args=(queue,), daemon=True, name="jobs")
                self._threads.append(thread)
                thread.start()
            return self._queues[heavy]

    def _work_off(self, queue: Queue) -> None:
        while (wanted := queue.get()) is not None and not self._closed:
            number, kind = wanted
            try:
                if write(self._engine, partial(take_up, number=number)):
                    self._watch(number, kind)
            except Exception:  # one job that cannot be begun keeps no other from its turn
                traceback.print_exc(file=sys.stderr)
            self._mark(number, NOT_BEGUN)

    def _watch(self, number: int, kind: Kind) -> None:
        """Start a process and see it end; ended rightly, it has said so in its row itself."""
        url = self._engine.url.render_as_string(hide_password=False)
        process = get_context("spawn").Process(
            target=run, args=(url, self._busy_timeout_s, number, kind.module), daemon=True
        )
        with self._lock:
            if self._closed:
                self._endings[number] = INTERRUPTED
            if number in self._endings:
                return
            process.start()
            self._processes[number] = process
        process.join()
        code = process.exitcode or 0
        how = f"by signal {-code}" if code < 0 else f"with code {code}"
        died = f"the process that worked on it ended {how}, perhaps for want of memory; start it again"
        with self._lock:
            del self._processes[number]
            self._endings.setdefault(number, ("failed", died))

    def _stop(self, number: int, ending: Ending) -> None:
        with self._lock:
            self._endings.setdefault(number, ending)
            process = self._processes.get(number)
        if process is not None:
            process.kill()
        self._mark(number, ending)

    def _mark_all(self, numbers: list[int]) -> None:
        for number in numbers:
            self._mark(number, INTERRUPTED)

    def _mark(self, number: int, otherwise: Ending) -> None:
        """Let the row end, unless it has ended; a database that is busy is asked again."""
        ending = self._endings.get(number, otherwise)
        deadline = time.monotonic() + PATIENCE_S * (1 if self._closed else 12)
        while time.monotonic() < deadline:
            try:
                write(self._engine, lambda session: end(session, number, *ending))
                return
            except (DatabaseError, SQLAlchemyError):
                time.sleep(ASKED_AGAIN_S)
