"""``python -m tests.benchmarks.table_import``: a CSV file of 50 MB, time and peak memory of the process.

Goal: under 200 MB, whether the rows are taken or refused one by one. Readings of 4,000 whips take some three
minutes on two cores, rows that are all refused as long, whips with layers and readings ten;
``--megabytes 5`` a tenth of each.
"""

import argparse
import json
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from plaitlog.service.database import writing
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.importing import take_records

GOAL_MB = 200
WHIPS = 4_000
CORD = {"kind": "cord", "name": "Ridge 4 mm", "material": "nylon", "construction": "cored"}

_CHILD = """
import json, resource, sys, time
from plaitlog.models.errors import ImportRefusedError
from plaitlog.service.database import writing
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.spreadsheets.importing import import_table
engine, _ = ready_engine(sys.argv[1])
started = time.perf_counter()
try:
    with open(sys.argv[2], "rb") as stream, writing(engine) as session:
        told = f"{sum(import_table(session, stream, 'benchmark.csv').counts().values())} rows taken"
except ImportRefusedError as error:
    told = str(error.finding.text)
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps([time.perf_counter() - started, peak, told]))
"""


def readings(chance: random.Random) -> Iterator[str]:
    yield "Whip,Station,Diameter (mm),Condition,Date,Notes\n"
    while True:
        yield (
            f"W-{chance.randrange(WHIPS):05d},{chance.randrange(60)} in,{chance.uniform(5, 25):.2f},rolled,"
            f"2024-0{chance.randrange(1, 10)}-1{chance.randrange(10)},measured twice with the new calipers\n"
        )


def refused(chance: random.Random) -> Iterator[str]:
    yield "Whip,Station,Diameter (mm),Condition,Date,Notes\n"
    while True:
        yield (
            f"W-{chance.randrange(WHIPS):05d},{chance.randrange(60)} in,{chance.uniform(5, 25):.2f}x,rolled,"
            "03/04/2024,\n"
        )


def whips(chance: random.Random) -> Iterator[str]:
    yield "Label,Maker,Thong length (mm),Weight (g),Cord,Core,Belly,Overlay,D0 in,D12,D24,Point,Notes\n"
    number = 0
    while True:
        number += 1
        yield (
            f"N-{number:06d},Orrin,{chance.randrange(1500, 2500)},{chance.randrange(300, 700)},Ridge 4 mm,6,"
            '"in: 12; 20: -2 each 4 to 8; 40: end","in: 16; 30: -2 each 4 to 12; p",'
            f"{chance.uniform(18, 24):.1f},{chance.uniform(15, 18):.1f},{chance.uniform(12, 15):.1f},"
            f'{chance.uniform(5, 8):.1f},"a note of the bench, long enough to weigh something"\n'
        )


SHAPES: dict[str, Callable[[random.Random], Iterator[str]]] = {
    "readings": readings,
    "refused": refused,
    "whips": whips,
}


def measure(shape: str, megabytes: float) -> str:
    """One line: seconds, peak memory, and what became of the rows."""
    with tempfile.TemporaryDirectory() as folder:
        database, table = str(Path(folder) / "table.db"), Path(folder) / "table.csv"
        engine, _ = ready_engine(database)
        with writing(engine) as session:
            labels = ({"kind": "whip", "label": f"W-{number:05d}"} for number in range(WHIPS))
            take_records(session, [CORD, *labels])
        engine.dispose()
        with table.open("w") as stream:
            for line in SHAPES[shape](random.Random(1)):
                stream.write(line)
                if stream.tell() >= megabytes * 1e6:
                    break
        started = time.perf_counter()
        child = subprocess.run(
            [sys.executable, "-c", _CHILD, database, str(table)], check=True, capture_output=True, text=True
        )
        seconds, peak, told = json.loads(child.stdout)
        assert seconds <= time.perf_counter() - started
    return f"{shape}: {seconds:.0f} s, peak {peak:.0f} MB (goal {GOAL_MB}), {told}"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.table_import", description=__doc__)
    parser.add_argument("--megabytes", type=float, default=50)
    parser.add_argument("shapes", nargs="*", default=list(SHAPES), help=", ".join(SHAPES))
    options = parser.parse_args()
    for shape in options.shapes:
        print(measure(shape, options.megabytes), flush=True)


if __name__ == "__main__":
    main()
