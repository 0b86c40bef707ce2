"""How far a job is, written down while it works: seldom, for others write too, and never late."""

import os
from contextlib import suppress
from functools import partial
from threading import Event, Thread
from typing import Final

from sqlalchemy import Engine

from plaitlog.models.errors import BusyDatabaseError
from plaitlog.service.database import write
from plaitlog.service.usecases.jobs import note_progress

BETWEEN_S: Final = 0.3


class Telling:
    """Takes what the work says as often as it likes; a thread of its own writes down the latest.

    Where the row runs no longer, because somebody cancelled it, the process ends on the spot: nothing that it
    has not committed is kept.
    """

    def __init__(self, engine: Engine, number: int) -> None:
        self._engine, self._number = engine, number
        self._said: tuple[str, float] | None = None
        self._written: tuple[str, float] | None = None
        self._over = Event()
        self._thread = Thread(target=self._write_on, daemon=True, name="telling")
        self._thread.start()

    def __call__(self, words: str, done_share: float) -> None:
        """Say what goes on, and the share in 0..1 that is done."""
        self._said = words, done_share

    def stop(self) -> None:
        """Write no more: what is written next is the end."""
        self._over.set()
        self._thread.join()

    def _write_on(self) -> None:
        while not self._over.wait(BETWEEN_S):
            said = self._said
            if said is None or said == self._written:
                continue
            with suppress(BusyDatabaseError):  # next time, then
                note = partial(note_progress, number=self._number, words=said[0], done_share=said[1])
                if not write(self._engine, note):
                    os._exit(0)
                self._written = said
