"""Files of 50 MB, read in a process of their own with all that an import loads: never above 200 MB.

The peak is the kernel's own (VmHWM); that of ``getrusage`` begins with the memory of the process that started
this one. The whole import of such files takes minutes: ``python -m tests.benchmarks.table_import``.
"""

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from plaitlog.service.usecases.spreadsheets.writing import write_xlsx
from plaitlog.service.usecases.spreadsheets.xlsx_scan import CELLS
from tests.fuzz.malformed import HEAD

SIZE = 50_000_000
GOAL_MB = 200
QUOTE = '"'
CHILD = """
import json, re, sys
from pathlib import Path
import plaitlog.service.usecases.spreadsheets.importing
from plaitlog.models.errors import TableError
from plaitlog.service.usecases.spreadsheets.reading import open_table
rows = refused = 0
error = None
try:
    with open(sys.argv[1], "rb") as stream:
        for sheet in open_table(stream, sys.argv[1]).sheets:
            for row in sheet.rows:
                rows += 1
                refused += row.refusal is not None
except TableError as raised:
    error = raised.finding.code
peak = int(re.search(r"VmHWM:\\s+(\\d+) kB", Path("/proc/self/status").read_text())[1]) / 1024
print(json.dumps([rows - 1, refused, error, peak]))
"""


def good(path: Path) -> None:
    _fill(path, lambda number: f"w{number},2026-03-02,1830,412,22.3,{'note ' * 60}\n")


def all_bad(path: Path) -> None:
    _fill(path, lambda number: f'w{number},2026-03-02,1830,412,22.3,"{"a" * 250}" b\n')


def one_line(path: Path) -> None:
    path.write_text(f"{HEAD}\nw1,,,,,{'x' * SIZE}\nw2,,1830,,,\n")


def one_quote(path: Path) -> None:
    _fill(path, lambda number: f"w{number},,,,,{'' if number > 1 else QUOTE}{'y' * 300}\n")


def hard_quotes(path: Path) -> None:
    """Each line opens a quote when read by itself, and leaves one open when read after another."""
    _fill(path, lambda number: f'x","{"z" * 300}\n')


def workbook(path: Path) -> None:
    """The largest sheet that is taken, of texts that all differ."""
    rows = (
        [f"w{number}", *(f"a note {number} {column}" for column in range(9))]
        for number in range(CELLS // 10 - 1)
    )
    write_xlsx(path, [("whips", [[f"column {column}" for column in range(10)], *rows])])


def _fill(path: Path, line: Callable[[int], str]) -> None:
    """Write a header, and lines by their number until the file has its size."""
    with path.open("w") as file:
        file.write(HEAD + "\n")
        number = 0
        while file.tell() < SIZE:
            number += 1
            file.write(line(number))


CASES: list[tuple[Callable[[Path], None], int | None, int | None]] = [
    (good, None, 0),
    (all_bad, None, None),
    (one_line, 2, 1),
    (one_quote, None, 1),
    (hard_quotes, None, None),
    (workbook, CELLS // 10 - 1, 0),
]


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the kernel tells no peak")
@pytest.mark.parametrize(("made", "rows", "refused"), CASES, ids=[made.__name__ for made, _, _ in CASES])
def test_a_file_of_any_size_is_read_within_the_memory_promised(
    tmp_path: Path, made: Callable[[Path], None], rows: int | None, refused: int | None
) -> None:
    path = tmp_path / "table"
    made(path)
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(path)], capture_output=True, text=True, check=True
    )
    found, bad, error, peak_mb = json.loads(done.stdout)
    assert error is None
    assert peak_mb < GOAL_MB
    if rows is None:
        rows = path.read_bytes().count(b"\n") - 1
    assert found == rows
    assert bad == (rows if refused is None else refused)
