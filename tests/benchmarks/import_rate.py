"""Readings a second through the whole import: bytes, checks, rows, history, commit. Goal: 5,000 on SQLite."""

import io
import json
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from plaitlog.service.database import reading, writing
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.exporting import export_lines
from plaitlog.service.usecases.importing import import_lines

GOAL = 5_000.0
CORD = {"kind": "cord", "name": "Ridge 4 mm", "material": "nylon", "construction": "cored"}


def nested(whips: int, readings: int) -> Iterator[dict[str, Any]]:
    """Whips with their layers and readings on one line each."""
    yield CORD
    for number in range(whips):
        yield {
            "kind": "whip",
            "label": f"w{number}",
            "thong_length_mm": 1800,
            "layers": [
                {"role": "core", "cord": "Ridge 4 mm", "strands": [[0, 6], [300, 4], [700, 0]]},
                {"role": "overlay", "cord": "Ridge 4 mm", "strands": [[0, 16], [900, 12], [1500, 8]]},
            ],
            "readings": [
                {"at_mm": 80 * n + 10, "diameter_mm": round(20 - 0.6 * n + number % 7 / 10, 2)}
                for n in range(readings)
            ],
        }


def one_by_one(whips: int, readings: int) -> Iterator[dict[str, Any]]:
    """The same readings, each on a line of its own."""
    for record in nested(whips, readings):
        held = record.pop("readings", [])
        yield record
        yield from ({"kind": "reading", "whip": record["label"], **each} for each in held)


def rates(whips: int = 250, readings: int = 20) -> dict[str, float]:
    """Readings a second for both shapes of file, first and second import, and export."""
    found: dict[str, float] = {}
    for name, shape in (("nested in whips", nested), ("one a line", one_by_one)):
        text = b"".join(json.dumps(record).encode() + b"\n" for record in shape(whips, readings))
        with tempfile.TemporaryDirectory() as folder:
            engine, _ = ready_engine(str(Path(folder) / "rate.db"))
            for again in ("", ", all there already"):
                start = time.perf_counter()
                with writing(engine) as session:
                    import_lines(session, io.BytesIO(text))
                found[f"import, {name}{again}"] = whips * readings / (time.perf_counter() - start)
            start = time.perf_counter()
            with reading(engine) as session:
                sum(map(len, export_lines(session)))
            found["export"] = whips * readings / (time.perf_counter() - start)
            engine.dispose()
    return found


def lines() -> list[str]:
    """The table as the benchmark prints it."""
    return [f"{name}: {rate:,.0f} readings a second (goal {GOAL:,.0f})" for name, rate in rates().items()]


if __name__ == "__main__":
    print("\n".join(lines()))
