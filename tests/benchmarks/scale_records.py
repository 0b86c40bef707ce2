"""A workshop of any size in a database within seconds: some whips imported, the others copied in bulk.

Every copy has the layers of its model and readings of its own: the true diameter of each stack, times the
pull of its own hand and the irregularity of each place, read with calipers.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection, Engine, text

from plaitlog.models.tables import (
    Base,
    LayerCordRow,
    LayerRow,
    ReadingRow,
    StepCountRow,
    StepRow,
    WhipRow,
)
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.database import write
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.to_records import cord_record, whip_record
from tests.benchmarks.workshops import HELD_OUT
from tests.benchmarks.workshops.cords import HiddenCord
from tests.benchmarks.workshops.habits import CALIPER_MM, IRREGULARITY_SD, PULL_SD, Habits
from tests.benchmarks.workshops.workshop import Workshop, open_workshop

CORDS: Final = 40
MODELS: Final = 1_540
"""Whips that are laid out; all others are copies of their layers."""
READINGS: Final = 13
HABITS: Final = Habits(makers=3, filler=0.2, foundation=0.2, conditions=0.2, inner_every=2)
_COPIED: Final = (WhipRow, LayerRow, LayerCordRow, StepRow, StepCountRow)


@dataclass(frozen=True)
class Models:
    """The whips to copy, with noisy readings of their own, and the true diameter in mm where each was taken.

    A reading is named by the label of its whip, its station and the layer it was taken on.
    """

    cords: tuple[Cord, ...]
    whips: tuple[Whip, ...]
    expected_mm: Mapping[tuple[str, float, int | None], float]


def models(count: int = MODELS, seed: int = 0) -> Models:
    """``count`` whips of 40 cords by three makers, 13 readings each, some on inner layers."""
    workshop = _workshop_of_many_cords(seed)
    rng = np.random.default_rng([seed, count])
    whips: list[Whip] = []
    expected: dict[tuple[str, float, int | None], float] = {}
    for made in workshop.make(count, "model", tuple(workshop.hidden)):
        picked = np.sort(rng.permutation(len(made.real.readings))[:READINGS])
        readings = [made.real.readings[k] for k in picked]
        true = [
            workshop.expected_mm(made.real_stack(x, workshop.catalogue), made.real.maker or "", x.condition)
            for x in readings
        ]
        sizes = measured(rng, np.array(true), np.zeros(len(true), dtype=np.intp))
        noted = tuple(
            replace(x, diameter_mm=size, girth_mm=None, tape_mm=None)
            for x, size in zip(readings, sizes.tolist(), strict=True)
        )
        whips.append(replace(made.real, readings=noted))
        for x, size in zip(readings, true, strict=True):
            assert x.at_mm is not None
            expected[made.real.label, x.at_mm, x.after_layer] = size
    return Models(tuple(workshop.catalogue.values()), tuple(whips), expected)


def measured(
    rng: np.random.Generator, expected_mm: NDArray[np.float64], whip: NDArray[np.intp]
) -> NDArray[np.float64]:
    """What calipers say where so much is expected, ``whip`` numbering the whip of each reading."""
    pull = rng.normal(0, PULL_SD, int(whip.max(initial=-1)) + 1)[whip]
    local = rng.normal(0, IRREGULARITY_SD, len(whip))
    return np.round(expected_mm * np.exp(pull + local) + rng.normal(0, CALIPER_MM, len(whip)), 2)


def _workshop_of_many_cords(seed: int) -> Workshop:
    mechanics = HELD_OUT[0]
    workshops = [open_workshop(mechanics, seed + k, HABITS) for k in range(4)]
    hidden: dict[str, HiddenCord] = {}
    catalogue: dict[str, Cord] = {}
    for workshop in workshops:
        for name, cord in workshop.hidden.items():
            if len(hidden) < CORDS:
                new = f"cord {len(hidden) + 1:02d}"
                hidden[new] = replace(cord, name=new)
                catalogue[new] = replace(workshop.catalogue[name], name=new)
    return replace(workshops[0], hidden=hidden, catalogue=catalogue)


def fill(engine: Engine, made: Models, copies: int, seed: int = 1) -> None:
    """Import the models into an empty workshop, and have ``copies`` whips of each, themselves included."""
    records = [*map(cord_record, made.cords), *map(whip_record, made.whips)]
    write(engine, lambda session: take_records(session, records))
    with engine.begin() as connection:
        last = {
            table.__tablename__: int(connection.scalar(text(f"SELECT max(id) FROM {table.__tablename__}")))
            for table in (*_COPIED, ReadingRow)
        }
        for table in _COPIED:
            for k in range(1, copies):
                _copy(connection, table, last, k)
        _copy_readings(connection, made, last, copies, np.random.default_rng(seed))
        if connection.dialect.name == "postgresql":
            for name in last:
                sequence = f"pg_get_serial_sequence('{name}', 'id')"
                connection.execute(text(f"SELECT setval({sequence}, (SELECT max(id) FROM {name}))"))
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text("ANALYZE"))


def _copy(connection: Connection, table: type[Base], last: dict[str, int], k: int) -> None:
    """The k-th copy of every model's rows of one table; keys follow those of the copy before."""
    columns = []
    for column in table.__table__.columns:
        owner = next((x.column.table.name for x in column.foreign_keys if x.ondelete == "CASCADE"), None)
        own = table.__tablename__ if column.primary_key else owner
        if own is not None:
            columns.append(f'"{column.name}" + {k * last[own]}')
        elif column.name == "label":
            columns.append(f"label || '-{k:03d}'")
        else:
            columns.append(f'"{column.name}"')
    name, names = table.__tablename__, ", ".join(f'"{column.name}"' for column in table.__table__.columns)
    models_only = f"WHERE id <= {last[name]}"
    chosen = ", ".join(columns)
    connection.execute(text(f"INSERT INTO {name} ({names}) SELECT {chosen} FROM {name} {models_only}"))


def _copy_readings(
    connection: Connection, made: Models, last: dict[str, int], copies: int, rng: np.random.Generator
) -> None:
    names = [column.name for column in ReadingRow.__table__.columns]
    quoted = ", ".join(f'"{name}"' for name in names)
    driver: Any = connection.connection.dbapi_connection
    cursor = driver.cursor()
    labels = dict(cursor.execute("SELECT id, label FROM whips WHERE label NOT LIKE '%-%-%'").fetchall())
    rows = cursor.execute(f"SELECT {quoted} FROM readings ORDER BY id").fetchall()
    key, whip_key, size, at, layer = (
        names.index(name) for name in ("id", "whip_id", "diameter_mm", "at_mm", "after_layer")
    )
    of_whip = np.array([row[whip_key] for row in rows]) - 1
    expected = np.array([made.expected_mm[labels[row[whip_key]], row[at], row[layer]] for row in rows])
    for k in range(1, copies):
        sizes = measured(rng, expected, of_whip).tolist()
        found = []
        for row, diameter in zip(rows, sizes, strict=True):
            new = list(row)
            new[key] += k * last["readings"]
            new[whip_key] += k * last["whips"]
            new[size] = diameter
            found.append(new)
        _put(cursor, connection.dialect.name, quoted, found)


def _put(cursor: Any, dialect: str, columns: str, rows: Sequence[Sequence[Any]]) -> None:
    if dialect == "sqlite":
        marks = ", ".join("?" * len(rows[0]))
        cursor.executemany(f"INSERT INTO readings ({columns}) VALUES ({marks})", rows)
        return
    with cursor.copy(f"COPY readings ({columns}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)


def copies_for(readings: int) -> int:
    """How many copies of the models hold so many readings."""
    return math.ceil(readings / (MODELS * READINGS))
