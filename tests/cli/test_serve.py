"""``plaitlog serve``: a real server, on this computer alone unless it is told otherwise."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from plaitlog.service.cli.serving import is_loopback, listen_on
from tests.cli.conftest import Run


@contextmanager
def server(folder: Path, *options: str) -> Iterator[tuple[str, list[str]]]:
    """The address of a running server and what it said before it served; it must end well on Ctrl-C."""
    command = [sys.executable, "-W", "error", "-c", "from plaitlog.service.cli.main import main; main()"]
    environment = {**os.environ, "XDG_DATA_HOME": str(folder), "PLAITLOG_DATABASE_URL": ""}
    process = subprocess.Popen(
        [*command, "serve", "--port", "0", *options], stderr=subprocess.PIPE, text=True, env=environment
    )
    assert process.stderr is not None
    said: list[str] = []
    while not said or not said[-1].startswith("Records:"):
        said.append(process.stderr.readline())
        assert said[-1], "".join(said)
    address = re.search(r"http://\S+", "".join(said))
    assert address is not None
    try:
        yield address[0], said
        process.send_signal(signal.SIGINT)
        assert process.wait(20) == 0
        assert "Traceback" not in process.stderr.read()
    finally:
        process.kill()
        process.wait()
        process.stderr.close()


def fetch(address: str, sent: object = None) -> object:
    body = None if sent is None else json.dumps(sent).encode()
    request = urllib.request.Request(address, body, {"Content-Type": "application/json"})
    with urllib.request.urlopen(request, timeout=20) as answer:
        return json.load(answer)


def test_it_says_where_it_serves_and_keeps_what_it_is_sent(tmp_path: Path) -> None:
    with server(tmp_path) as (address, said):
        assert address.startswith("http://127.0.0.1:")
        assert str(tmp_path / "plaitlog" / "plaitlog.db") in said[-1]
        assert fetch(f"{address}/healthz") == {"status": "alive"}
        fetch(f"{address}/api/v1/makers", {"name": "Orrin"})
    with server(tmp_path) as (address, _):
        found = fetch(f"{address}/api/v1/makers/Orrin")
        assert isinstance(found, dict)
        assert found["record"]["name"] == "Orrin"


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.20", "workshop.example", ""])
def test_an_address_that_others_reach_is_refused_before_anything_listens(
    run: Run, home: Path, host: str
) -> None:
    result = run("serve", "--host", host, code=2)
    assert "no accounts" in result.stderr
    assert "--allow-lan" in result.stderr
    assert not home.exists()


def test_a_port_that_is_taken_is_named(tmp_path: Path, run: Run) -> None:
    with server(tmp_path / "other") as (address, _):
        port = address.rpartition(":")[2]
        assert f"port {port}" in run("serve", "--port", port, code=2).stderr


@pytest.mark.parametrize(
    ("host", "alone"),
    [
        ("127.0.0.1", True),
        ("127.9.9.9", True),
        ("::1", True),
        ("localhost", True),
        ("0.0.0.0", False),
        ("localhost.workshop.example", False),
        ("10.0.0.1", False),
    ],
)
def test_what_counts_as_this_computer(host: str, alone: bool) -> None:
    assert is_loopback(host) is alone


def test_answers_of_several_packets_need_not_wait_for_each_other() -> None:
    """asyncio switches the waiting off for sockets that know that they speak TCP."""
    with listen_on("127.0.0.1", 0) as listening:
        assert listening.proto == socket.IPPROTO_TCP
