"""``python -m tests.benchmarks.recording``: how long a recording form waits for its echo while one types.

The real server is asked over HTTP with a whole whip, three layers and a dozen readings, another one each
time; every answer is kept as a draft, as the form's script has it. The demo by default; ``--database FILE``
takes another workshop (of which a copy is used). Nothing else should run meanwhile.
"""

import argparse
import re
import shutil
import tempfile
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlencode, urlsplit

from tests.benchmarks.pages import FILE, HTML, PATIENCE_S, Ask, Asked, get, serving
from tests.pages.workshops import demo_copy

GOAL_MS = 100.0
WHIP = {
    "mode": "new", "tab": "bench", "seen": "0", "label": "not there yet", "type": "bullwhip",
    "maker": "Orrin", "status": "finished", "datum": "handle end", "thong_length": "6'",
    "layer.1": "core 6A; 12: -1 each 3 to 0 cut", "cord.A": "Ridge 4 mm",
    "layer.2": "belly 12A; 28: -2 each 4 to 6 tuck 3; 45: end", "complete": "yes",
    "readings.1": "0 each 6: 23.1 22.8 22.6 22.2 21.0 20.4 19.3 18.2 16.8 12.3 11.6 11.2",
    "weight": "412 with fall",
}  # fmt: skip


def typing(token: str, origin: str) -> Ask:
    """Asks for the echo again and again, each time with another overlay."""

    def ask(connection: HTTPConnection, number: int) -> None:
        overlay = f"overlay 16A; {36 + number % 9}: -2 each 4 to 8 tuck 3; p"
        typed = {**WHIP, "turn": str(number + 10), "layer.3": overlay}
        headers = {**HTML, "Content-Type": "application/x-www-form-urlencoded", "Origin": origin}
        connection.request("POST", f"/record/{token}/look", urlencode(typed), headers)
        answer = connection.getresponse()
        told = answer.read().decode()
        assert answer.status == 200, (answer.status, told[:500])
        assert "Beside what is expected" in told

    return ask


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.recording", description=__doc__)
    parser.add_argument("--requests", type=int, default=60)
    parser.add_argument("--database", metavar="FILE", type=Path, help="take a copy of this workshop")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="plaitlog-recording-") as scratch:
        folder = Path(scratch)
        if options.database:
            file = Path(shutil.copy(options.database, folder / FILE))
        else:
            file = Path(demo_copy(folder))
        with serving(file, folder) as (address, process):
            connection = HTTPConnection(urlsplit(address).netloc, timeout=PATIENCE_S)
            token = re.search(r'data-token="([^"]+)"', get(connection, "/record"))
            connection.close()
            assert token is not None
            p95, worked = Asked(address, process, options.requests).times(typing(token[1], address))
            print(f"echo of a whole whip: {p95:.0f} ms p95, goal {GOAL_MS:.0f} ms, processor {worked:.0f} ms")


if __name__ == "__main__":
    main()
