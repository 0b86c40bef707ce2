"""Work for tests, loaded by the process that does it: it waits for files in a folder, fails, dies."""

import os
import signal
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, FitError
from plaitlog.models.tables import DraftRow
from plaitlog.service.work.kinds import Finish, Tell

PATIENCE_S = 60.0


def work(engine: Engine, asked: Mapping[str, Any], tell: Tell) -> Finish:
    """Tell ``asked["shares"]`` in turn, wait for the file "go" in ``asked["folder"]``, write a draft.

    The file "wrote-NAME" is there before the transaction ends, which then waits for "commit".
    """
    folder = Path(asked["folder"])
    began = folder / f"began-{asked['name']}"
    began.with_suffix(".part").write_text(str(os.getpid()))
    began.with_suffix(".part").replace(began)  # whoever sees it finds the number in it
    if asked.get("ends") == "refused":
        raise FitError(Finding("no-rope", "there is no rope here", "bring some"))
    if asked.get("ends") == "broken":
        raise ZeroDivisionError("nothing left")
    if asked.get("ends") == "killed":
        os.kill(os.getpid(), signal.SIGKILL)
    for share in asked.get("shares", ()):
        tell(f"at {share}", share)
        time.sleep(0.4)
    _wait_for(folder / "go")

    def finish(session: Session) -> Mapping[str, Any]:
        session.add(DraftRow(token=asked["name"], kind="test", title="written by a job", content={}))
        session.flush()
        (folder / f"wrote-{asked['name']}").touch()
        _wait_for(folder / "commit")
        return {"address": "/jobs/{number}?as=json", "name": asked["name"]}

    return finish


def _wait_for(file: Path) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not file.exists():
        assert time.monotonic() < deadline
        time.sleep(0.01)
