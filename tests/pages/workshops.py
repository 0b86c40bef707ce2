"""Workshops that pages are shown of, made once for all tests and copied for each."""

import shutil
import time
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from plaitlog.seed_demo.workshop import seed
from plaitlog.service.database import reading, write
from plaitlog.service.filling import fill_gathered
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.fitting import gather, store, weighed_whips, work_out

PATIENCE_S = 120


def _made(file: Path) -> None:
    engine, _ = ready_engine(str(file))
    write(engine, seed)
    fill_gathered(engine)
    with reading(engine) as session:
        gathered, weighed = gather(session), weighed_whips(session)
    worked = work_out(gathered, weighed, with_evidence=False)
    write(engine, lambda session: store(session, worked))
    engine.dispose()


@cache
def _demo(shared: Path | None) -> Path:
    """The demo; where several processes run tests the first to ask makes it, in a folder of theirs all."""
    if shared is None:
        file = Path(mkdtemp(prefix="plaitlog-tests-demo-")) / "demo.db"
        _made(file)
        return file
    file = shared / "demo" / "demo.db"
    try:
        file.parent.mkdir()
    except FileExistsError:
        deadline = time.monotonic() + PATIENCE_S
        while not file.exists():
            assert time.monotonic() < deadline, "the demo was not made"
            time.sleep(0.1)
        return file
    _made(file.with_name("making.db"))
    return file.with_name("making.db").rename(file)


def demo_copy(folder: Path) -> str:
    """The demo with a fit (without evidence, which takes long), as a file of its own in ``folder``."""
    shared = next((one.parent for one in folder.parents if one.name.startswith("popen-gw")), None)
    return str(shutil.copy(_demo(shared), folder / "plaitlog.db"))
