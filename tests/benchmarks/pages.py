"""``python -m tests.benchmarks.pages``: how long a browser waits, on a workshop of ten thousand whips.

The real server is asked over HTTP, one request after the other. Each figure is the 95th percentile beside its
goal, and the processor time that the server took for one on average (where /proc tells). Making the workshop
takes some minutes; ``--keep FOLDER`` keeps it for next time, and ``--database FILE`` takes another one (of
which a copy is used). Nothing else should run meanwhile.
"""

import argparse
import io
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from html.parser import HTMLParser
from http.client import HTTPConnection
from itertools import islice
from pathlib import Path
from urllib.parse import quote, urlencode, urlsplit

import numpy as np

from plaitlog.seed_demo.workshop import line, records
from plaitlog.service.database import reading, write
from plaitlog.service.filling import fill_gathered
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.fitting import gather, store, weighed_whips, work_out
from plaitlog.service.usecases.importing import import_lines

FILE = "pages.db"
WARM = 8
PATIENCE_S = 120
LISTS = (
    "/whips",
    "/whips?page=50",
    "/whips?sort=made_on&down=yes",
    "/whips?sort=thick_mm",
    "/whips?sort=overall&down=yes&status=finished",
    "/whips?text=orrin+fell",
    "/whips?type=bullwhip&maker=Orrin&page=3",
    "/whips?cord=Fell+3+mm&sort=weight_g",
)
HTML = {"Accept": "text/html"}
Ask = Callable[[HTTPConnection, int], None]


def make(file: Path, whips: int) -> None:
    """Many invented workshops in one, with the cords of the first, and a fit of them all."""
    engine, _ = ready_engine(str(file))
    text = "\n".join(map(line, islice(_records(), _enough(whips)))).encode()
    write(
        engine, lambda session: import_lines(session, io.BytesIO(text), source="bench", size_bytes=len(text))
    )
    fill_gathered(engine)
    with reading(engine) as session:
        gathered, weighed = gather(session), weighed_whips(session)
    worked = work_out(gathered, weighed, with_evidence=False)
    write(engine, lambda session: store(session, worked))
    engine.dispose()


def _records() -> Iterator[dict[str, object]]:
    yield from (record for record in records(1) if record["kind"] in ("cord", "stock"))
    seed = 0
    while True:
        seed += 1
        for record in records(seed):
            if record["kind"] == "whip" and record.get("type") != "test plait":
                yield {**record, "label": f"{seed}/{record['label']}"}
            elif record["kind"] == "rating":
                yield {**record, "whip": f"{seed}/{record['whip']}"}


def _enough(whips: int) -> int:
    """How many records hold so many whips."""
    found = 0
    for number, record in enumerate(_records(), start=1):
        found += record["kind"] == "whip"
        if found == whips:
            return number
    raise AssertionError("unreachable")


@contextmanager
def serving(file: Path, folder: Path) -> Iterator[tuple[str, int]]:
    """Address and process of ``plaitlog serve`` on a file, with a user's folder of its own."""
    log = folder / "server.log"
    environment = {**os.environ, "XDG_DATA_HOME": str(folder / "data")}
    command = [str(Path(sys.executable).with_name("plaitlog")), "serve", "--port", "0"]
    with log.open("w") as stream:
        process = subprocess.Popen([*command, "--database", str(file)], env=environment, stderr=stream)
    try:
        deadline = time.monotonic() + PATIENCE_S
        while (found := re.search(r"http://\S+?:\d+", log.read_text())) is None:
            if process.poll() is not None or time.monotonic() > deadline:
                raise SystemExit(log.read_text())
            time.sleep(0.05)
        yield found[0], process.pid
    finally:
        process.terminate()
        process.wait(PATIENCE_S)


def processor_s(process: int) -> float:
    """Processor time of a process so far; NaN where the system does not tell."""
    try:
        told = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return float("nan")
    return (int(told[11]) + int(told[12])) / os.sysconf("SC_CLK_TCK")


class Asked:
    """A server that is asked again and again: how long each whole answer takes, in ms."""

    def __init__(self, address: str, process: int, requests: int) -> None:
        self.address, self.process, self.requests = address, process, requests

    def times(self, ask: Ask) -> tuple[float, float]:
        """The 95th percentile, and the server's processor time for one on average, after some to warm up."""
        connection = HTTPConnection(urlsplit(self.address).netloc, timeout=PATIENCE_S)
        took: list[float] = []
        worked = 0.0
        for number in range(-WARM, self.requests):
            worked = processor_s(self.process) if number == 0 else worked
            started = time.perf_counter()
            ask(connection, number)
            took.append(time.perf_counter() - started)
        connection.close()
        worked = processor_s(self.process) - worked
        return float(np.percentile(took[WARM:], 95)) * 1000, worked / self.requests * 1000


def get(connection: HTTPConnection, path: str) -> str:
    connection.request("GET", path, headers=HTML)
    answer = connection.getresponse()
    text = answer.read().decode()
    assert answer.status == 200, (path, answer.status, text[:500])
    return text


class Form(HTMLParser):
    """The fields of a page's form with this id, in order, as a browser would send them."""

    def __init__(self, wanted: str, text: str) -> None:
        super().__init__()
        self.fields: list[list[str]] = []
        self._wanted, self._inside, self._area, self._select = wanted, False, False, ""
        self._options: list[tuple[str | None, bool]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        if tag == "form":
            self._inside = found.get("id") == self._wanted
        if not self._inside:
            return
        name = found.get("name") or ""
        is_box = found.get("type") in ("checkbox", "radio")
        if tag == "input" and name and (not is_box or "checked" in found):
            self.fields.append([name, found.get("value") or ""])
        elif tag == "textarea":
            self._area = True
            self.fields.append([name, ""])
        elif tag == "select":
            self.fields.append([name, ""])
        elif tag == "option" and "selected" in found:
            self.fields[-1][1] = found.get("value") or ""
            self._select = "" if "value" in found else "text"

    def handle_data(self, data: str) -> None:
        if self._area:
            self.fields[-1][1] += data.lstrip("\n")
        elif self._select:
            self.fields[-1][1], self._select = data.strip(), ""

    def handle_endtag(self, tag: str) -> None:
        self._area = self._area and tag != "textarea"
        if tag == "form":
            self._inside = False


def typing(text: str, origin: str) -> Ask:
    """Asks for the prediction again and again, each time with other strands in a layer."""
    fields = Form("stack", text).fields
    counts = [place for place, (name, _) in enumerate(fields) if name == "strands"]

    def ask(connection: HTTPConnection, number: int) -> None:
        typed = [(name, value) for name, value in fields]
        typed[counts[number % len(counts)]] = ("strands", str(4 + 2 * (number % 9)))
        headers = {**HTML, "Content-Type": "application/x-www-form-urlencoded", "Origin": origin}
        connection.request("POST", "/predict/answer", urlencode(typed), headers)
        answer = connection.getresponse()
        told = answer.read().decode()
        assert answer.status == 200, (answer.status, told[:500])
        assert " mm" in told

    return ask


def new_cord(origin: str) -> Ask:
    """Asks what a cord will come out at again and again, each time with other measurements of it."""

    def ask(connection: HTTPConnection, number: int) -> None:
        typed = {"weighed_length": "10", "grams": 40 + number % 40, "touching": f"{3 + number % 20 / 10:.1f}"}
        headers = {**HTML, "Content-Type": "application/x-www-form-urlencoded", "Origin": origin}
        connection.request("POST", "/new-cord/tried", urlencode(typed), headers)
        answer = connection.getresponse()
        told = answer.read().decode()
        assert answer.status == 200, (answer.status, told[:500])
        assert "What each measurement buys" in told

    return ask


def labels(address: str) -> list[str]:
    """Labels of the whips of some pages of the list."""
    connection = HTTPConnection(urlsplit(address).netloc, timeout=PATIENCE_S)
    found = [
        row["label"]
        for page in (1, 20, 40, 60)
        for row in json.loads(_data(connection, f"/whips?status=finished&page={page}"))["rows"]
    ]
    connection.close()
    return found


def _data(connection: HTTPConnection, path: str) -> str:
    connection.request("GET", path, headers={"Accept": "application/json"})
    return connection.getresponse().read().decode()


def measure(server: Asked) -> Iterator[tuple[str, tuple[float, float], float]]:
    """Each with its times and its goal, in ms."""
    for path in LISTS:
        yield path, server.times(lambda connection, _, path=path: _unread(get(connection, path))), 150.0
    whips: Sequence[str] = labels(server.address)
    picked = np.random.default_rng(0).permutation(len(whips))

    def whip(connection: HTTPConnection, number: int) -> None:
        get(connection, f"/whips/{quote(whips[picked[number % len(picked)]], safe='')}")

    yield "one whip", server.times(whip), 100.0
    connection = HTTPConnection(urlsplit(server.address).netloc, timeout=PATIENCE_S)
    page = get(connection, "/predict")
    connection.close()
    yield "prediction while typing", server.times(typing(page, server.address)), 50.0
    yield "a new cord while typing", server.times(new_cord(server.address)), 50.0


def _unread(text: str) -> None:
    assert "<tbody>" in text, text[:500]


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.pages", description=__doc__)
    parser.add_argument("--whips", type=int, default=10_000)
    parser.add_argument("--requests", type=int, default=60, help="of each kind")
    parser.add_argument("--keep", metavar="FOLDER", type=Path, help="make the workshop here, or take it")
    parser.add_argument("--database", metavar="FILE", type=Path, help="take a copy of this workshop")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="plaitlog-pages-") as scratch:
        folder = Path(scratch)
        file = (options.keep or folder) / FILE
        if options.database:
            file = Path(shutil.copy(options.database, folder / FILE))
        elif not file.exists():
            started = time.perf_counter()
            make(file, options.whips)
            print(f"made {options.whips} whips and a fit in {time.perf_counter() - started:.0f} s")
        with serving(file, folder) as (address, process):
            for what, (p95, worked), goal in measure(Asked(address, process, options.requests)):
                missed = "" if p95 <= goal else "   MISSED"
                print(
                    f"{what:<46}{p95:>7.0f} ms p95   goal {goal:.0f} ms   processor {worked:.0f} ms{missed}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
