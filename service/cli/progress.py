"""A progress bar on stderr for work that takes long; silent where stderr is not a terminal."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

PATIENCE_S = 0.5
"""Work that is done sooner shows no bar."""

Progress = Callable[[str, int, int | None], None]


@contextmanager
def bar() -> Iterator[Progress]:
    """Gives a function to be told (what, how much is done, of how much if that is known)."""
    if not sys.stderr.isatty():
        yield lambda doing, done, total: None
        return
    from rich.console import Console
    from rich.progress import Progress as Bar

    shown = Bar(console=Console(stderr=True), transient=True)
    tasks = {}
    began = time.monotonic()
    started = False

    def tell(doing: str, done: int, total: int | None) -> None:
        nonlocal started
        if time.monotonic() - began < PATIENCE_S:
            return
        if not started:
            shown.start()
            started = True
        if doing not in tasks:
            tasks[doing] = shown.add_task(doing, total=total)
        shown.update(tasks[doing], completed=done, total=total)

    try:
        yield tell
    finally:
        if started:
            shown.stop()
