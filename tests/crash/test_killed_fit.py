"""A server killed while a fit is made: started again, nothing seems to run and nothing is half there."""

import http.client
import json
import re
import signal
import time
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, func, select

from plaitlog.models.tables import FitRow
from plaitlog.service.database import reading
from plaitlog.service.migrate import ready_engine
from tests.crash.real_server import started
from tests.pages.pulled_workshop import workshop

PATIENCE_S = 60.0


def test_a_fit_is_interrupted_with_its_server_and_may_be_made_again(tmp_path: Path) -> None:
    database = workshop(tmp_path)
    engine, _ = ready_engine(database)
    before = fits(engine)
    server, port = started(database, tmp_path)
    try:
        assert asked(port, "POST", "/fit", "how=evidence").startswith("/jobs/1")
        until_share(port, 1, 0)
        child = child_of(server.pid)
        server.send_signal(signal.SIGKILL)
        server.wait()
        deadline = time.monotonic() + PATIENCE_S
        while Path(f"/proc/{child}").exists() and not is_zombie(child):
            assert time.monotonic() < deadline, "the process goes on without its server"
            time.sleep(0.05)
    finally:
        server.kill()
        assert server.stderr is not None
        server.stderr.close()
    server, port = started(database, tmp_path)
    try:
        job = told(port, 1)
        assert (job["state"], job["live"]) == ("interrupted", False)
        assert "start it again" in job["doing"]
        assert fits(engine) == before
        assert asked(port, "POST", "/fit", "how=quick").startswith("/jobs/2")
        until_share(port, 2, 100)
        assert told(port, 2)["state"] == "done"
        assert fits(engine) == before + 1
    finally:
        server.terminate()
        server.wait()
        assert server.stderr is not None
        server.stderr.close()
        engine.dispose()


def fits(engine: Engine) -> int:
    with reading(engine) as session:
        return session.scalar(select(func.count()).select_from(FitRow)) or 0


def asked(port: int, method: str, address: str, body: str | None = None) -> str:
    """The answer's text, or where it leads."""
    connection = http.client.HTTPConnection("127.0.0.1", port)
    headers = {"Accept": "application/json", "Origin": f"http://127.0.0.1:{port}"}
    if body is not None:
        headers["Content-Type"] = "application/x-www-form-urlencoded"
    connection.request(method, address, body, headers)
    answer = connection.getresponse()
    text = answer.read().decode()
    connection.close()
    assert answer.status in {200, 303}, text
    return answer.headers.get("Location") or text


def told(port: int, number: int) -> dict[str, Any]:
    job: dict[str, Any] = json.loads(asked(port, "GET", f"/jobs/{number}"))["job"]
    return job


def until_share(port: int, number: int, percent: int) -> None:
    """Wait until a job is in its work and so far, or has ended."""
    deadline = time.monotonic() + PATIENCE_S
    while (job := told(port, number))["live"] and (
        job["percent"] < percent or job["doing"] in {"waits for its turn", "begins"}
    ):
        assert time.monotonic() < deadline
        time.sleep(0.05)


def child_of(server: int) -> int:
    """The process that works for a server: the one that multiprocessing started, not its tracker."""
    for folder in Path("/proc").iterdir():
        if not folder.name.isdecimal():
            continue
        try:
            status = (folder / "status").read_text()
            command = (folder / "cmdline").read_bytes()
        except OSError:  # it has just ended
            continue
        if re.search(rf"^PPid:\s+{server}$", status, re.MULTILINE) and b"spawn_main" in command:
            return int(folder.name)
    raise AssertionError(f"no process works for {server}")


def is_zombie(process: int) -> bool:
    try:
        return "State:\tZ" in Path(f"/proc/{process}/status").read_text()
    except OSError:
        return True
