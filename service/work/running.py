"""One job in a process of its own: work, tell how far it is, and keep all that came of it or nothing.

The process leaves no job behind that seems to run: whatever goes wrong is told in the row in plain words,
and where it is killed whoever started it does so.
"""

import os
import signal
import sys
import traceback
from contextlib import suppress
from importlib import import_module
from multiprocessing import parent_process
from threading import Thread
from typing import Final

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.models.errors import BusyDatabaseError, PlaitlogError
from plaitlog.service.database import open_engine, reading, write
from plaitlog.service.usecases.jobs import end, finish, keep_result, one_job
from plaitlog.service.work.kinds import Work
from plaitlog.service.work.telling import Telling

TRIES: Final = 10
NO_MEMORY: Final = "there was not enough memory for it; end other programs, then start it again"


class NoLongerWantedError(Exception):
    """The job was cancelled, or another server took it for left over."""


def run(database: str, busy_timeout_s: float, number: int, module: str) -> None:
    """Do job ``number``, which is marked running already, with ``work`` of a module.

    database : its URL.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole group; the server ends us
    with suppress(AttributeError, OSError):
        os.nice(5)  # pages go before
    _end_with_the_server()
    engine = open_engine(database, busy_timeout_s=busy_timeout_s)
    try:
        _work(engine, number, import_module(module).work)
    except NoLongerWantedError:
        pass
    except PlaitlogError as error:
        fail(engine, number, str(error.finding))
    except MemoryError:
        fail(engine, number, NO_MEMORY)
    except Exception as error:
        traceback.print_exc(file=sys.stderr)
        fail(engine, number, f"it stopped at an error of the program ({type(error).__name__}: {error})")
    finally:
        engine.dispose()


def _work(engine: Engine, number: int, work: Work) -> None:
    with reading(engine) as session:
        asked = one_job(session, number).asked
    tell = Telling(engine, number)
    try:
        write_down = work(engine, asked, tell)
    finally:
        tell.stop()

    def keep(session: Session) -> None:
        # First of all, so that whoever cancels now either waits for this end or makes it impossible.
        if not finish(session, number):
            raise NoLongerWantedError
        result = dict(write_down(session))
        if "address" in result:
            result["address"] = result["address"].replace("{number}", str(number))
        keep_result(session, number, result)

    write(engine, keep)


def fail(engine: Engine, number: int, words: str) -> None:
    """Say in the row why nothing came of it."""
    for _ in range(TRIES):
        with suppress(BusyDatabaseError):
            write(engine, lambda session: end(session, number, "failed", words))
            return


def _end_with_the_server() -> None:
    parent = parent_process()
    if parent is None:
        return

    def wait() -> None:
        parent.join()
        os._exit(1)  # what is not committed is rolled back

    Thread(target=wait, daemon=True, name="end-with-the-server").start()
