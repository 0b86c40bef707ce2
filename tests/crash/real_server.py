"""The server as a maker starts it, in a process of its own, and a whip to send to it."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

READINGS = 3


def started(database: str, folder: Path) -> tuple[subprocess.Popen[str], int]:
    """The server, on a free port."""
    environment = {**os.environ, "XDG_DATA_HOME": str(folder / "share")}
    program = [sys.executable, "-c", "from plaitlog.service.cli.main import main; main()"]
    server = subprocess.Popen(
        [*program, "--database", database, "serve", "--port", "0"],
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
    )
    assert server.stderr is not None
    said = server.stderr.readline()
    match = re.search(r"http://127\.0\.0\.1:(\d+)", said)
    assert match is not None, said + server.stderr.read()
    return server, int(match[1])


def whip(label: str) -> bytes:
    readings = [{"at_mm": 100 * n, "diameter_mm": 20 - n} for n in range(READINGS)]
    layers = [{"role": "overlay", "cord": "Ridge 4 mm", "strands": [[0, 16], [900, 12]]}]
    return json.dumps({"label": label, "layers": layers, "readings": readings}).encode()
