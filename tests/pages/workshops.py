"""Workshops that pages are shown of, made once for all tests of a process and copied for each."""

import shutil
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from plaitlog.seed_demo.workshop import seed
from plaitlog.service.database import reading, write
from plaitlog.service.filling import fill_gathered
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.fitting import gather, store, weighed_whips, work_out


@cache
def _demo() -> Path:
    file = Path(mkdtemp(prefix="plaitlog-tests-demo-")) / "demo.db"
    engine, _ = ready_engine(str(file))
    write(engine, seed)
    fill_gathered(engine)
    with reading(engine) as session:
        gathered, weighed = gather(session), weighed_whips(session)
    worked = work_out(gathered, weighed, with_evidence=False)
    write(engine, lambda session: store(session, worked))
    engine.dispose()
    return file


def demo_copy(folder: Path) -> str:
    """The demo with a fit (without evidence, which takes long), as a file of its own in ``folder``."""
    return str(shutil.copy(_demo(), folder / "plaitlog.db"))
