"""An import that is killed: everything of the file is there afterwards, or nothing.

This shows that the death of the process loses nothing and halves nothing. It cannot show what a power cut
does: for that the settings of the connection are asserted elsewhere.
"""

import json
import random
import subprocess
import sys
import time
from pathlib import Path

import pytest
from sqlalchemy import Engine, func, select, text

from plaitlog.models.tables import HistoryRow, ReadingRow, StepRow, WhipRow
from plaitlog.service.database import reading
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.exporting import export_lines
from tests.crash.length import LONG

WHIPS, READINGS = 300, 17
PROGRAM = """
import sys
from plaitlog.service.database import open_engine, writing
from plaitlog.service.usecases.importing import import_lines

with open(sys.argv[2], "rb") as stream, writing(open_engine(sys.argv[1])) as session:
    import_lines(session, stream, progress=lambda *now: print(*now, flush=True))
print("committed", flush=True)
"""


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    cord = {"kind": "cord", "name": "Ridge 4 mm", "material": "nylon", "construction": "cored"}
    layers = [{"role": "overlay", "cord": "Ridge 4 mm", "strands": [[0, 16], [900, 12]]}]
    rows = [{"at_mm": 10 * n, "diameter_mm": 20 - n / 2} for n in range(READINGS)]
    whips = [{"kind": "whip", "label": f"w{n}", "layers": layers, "readings": rows} for n in range(WHIPS)]
    path = tmp_path_factory.mktemp("crash") / "workshop.jsonl"
    path.write_text("".join(json.dumps(record) + "\n" for record in [cord, *whips]))
    return path


STEPS = ["reading", "writing 100", "writing 200", "writing 300"]
MOMENTS = [(step, delay) for delay in (0.0, 0.03) for step in STEPS]
if LONG:
    chance = random.Random(5)
    MOMENTS = [(chance.choice(STEPS), chance.uniform(0, 0.4)) for _ in range(50)]


@pytest.mark.parametrize(("after", "delay_s"), MOMENTS)
def test_all_or_nothing(empty_database: str, file: Path, after: str, delay_s: float) -> None:
    engine, _ = ready_engine(empty_database)
    arguments = [sys.executable, "-c", PROGRAM, empty_database, str(file)]
    with subprocess.Popen(arguments, stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        said = ""
        while not said.startswith(after):
            said = child.stdout.readline()
            assert said, "the import ended before it was killed"
        time.sleep(delay_s)
        child.kill()
        committed = "committed" in child.stdout.read()
    whips, readings, steps, history = counted(engine)
    if committed:
        assert whips == WHIPS, "what was acknowledged is lost"
    assert (whips, readings, steps, history) in {
        (0, 0, 0, 0),
        (WHIPS, WHIPS * READINGS, 2 * WHIPS, 1),
    }
    if engine.dialect.name == "sqlite":
        with engine.connect() as connection:
            assert connection.execute(text("PRAGMA integrity_check")).scalar() == "ok"
            assert connection.execute(text("PRAGMA foreign_key_check")).first() is None
    # A second run, after whatever happened, leaves exactly one copy.
    subprocess.run(arguments, check=True, stdout=subprocess.DEVNULL)
    assert counted(engine) == (WHIPS, WHIPS * READINGS, 2 * WHIPS, 1)
    with reading(engine) as session:
        assert sum(1 for _ in export_lines(session)) == 1 + WHIPS
    engine.dispose()


def counted(engine: Engine) -> tuple[int, ...]:
    with reading(engine) as session:
        return tuple(
            session.scalar(select(func.count()).select_from(table)) or 0
            for table in (WhipRow, ReadingRow, StepRow, HistoryRow)
        )
