"""A server that is killed at any moment has kept everything that it said it had.

Clients post whips with their readings over HTTP to the real server, which is killed without warning and
started again, over and over. Whatever was answered with 201 is there, and nothing is there by halves.
"""

import http.client
import random
import signal
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from plaitlog.service.database import write
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.importing import take_records
from tests.crash.length import LONG
from tests.crash.real_server import READINGS, started, whip
from tests.crash.soundness import assert_sound

KILLS = {"sqlite": 200 if LONG else 10, "postgresql": 50 if LONG else 3}
AT_WORK_S = (0.2, 2.4) if LONG else (0.05, 0.6)
WANTED = 10_000 if LONG else 100
CLIENTS = 4
CORD = {"kind": "cord", "name": "Ridge 4 mm", "material": "nylon", "construction": "cored"}


@dataclass
class Ledger:
    """What the clients know: labels answered with 201, and what else the server said."""

    kept: set[str] = field(default_factory=set)
    sent: set[str] = field(default_factory=set)
    busy: int = 0
    surprises: list[str] = field(default_factory=list)
    lock: threading.Lock = field(default_factory=threading.Lock)


def post_whips(port: int, name: str, ledger: Ledger, patient: bool) -> None:
    """Post one whip after the other until the server is gone.

    On PostgreSQL a writer who clashes with others five times running is told to try again; who is patient
    does. On SQLite writers queue, and nobody is sent away.
    """
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    number = 0
    try:
        while True:
            label = f"{name}-{number}"
            ledger.sent.add(label)
            connection.request("POST", "/api/v1/whips", whip(label), {"Content-Type": "application/json"})
            answer = connection.getresponse()
            body = answer.read()
            with ledger.lock:
                if answer.status == 201:
                    ledger.kept.add(label)
                elif patient and answer.status == 503 and b"database-busy" in body:
                    ledger.busy += 1
                    continue
                else:
                    ledger.surprises.append(f"{answer.status} {body!r}")
            number += 1
    except (OSError, http.client.HTTPException):
        return
    finally:
        connection.close()


def test_nothing_acknowledged_is_lost(
    empty_database: str, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    engine, _ = ready_engine(empty_database)
    write(engine, lambda session: take_records(session, [CORD]))
    ledger, chance = Ledger(), random.Random(20260302)
    kills, patient = 0, engine.dialect.name == "postgresql"
    while kills < KILLS[engine.dialect.name] or (
        LONG and not patient and len(ledger.kept) < WANTED and kills < 400
    ):
        server, port = started(empty_database, tmp_path)
        before = len(ledger.kept)
        clients = [
            threading.Thread(target=post_whips, args=(port, f"{kills}-{client}", ledger, patient))
            for client in range(CLIENTS)
        ]
        for client in clients:
            client.start()
        deadline = time.monotonic() + 60
        while len(ledger.kept) == before and not ledger.surprises and time.monotonic() < deadline:
            time.sleep(0.005)
        time.sleep(chance.uniform(*AT_WORK_S))
        server.send_signal(signal.SIGKILL)
        for client in clients:
            client.join()
        server.communicate()
        kills += 1
        assert ledger.surprises == []
        found = assert_sound(engine, READINGS)
        lost = ledger.kept - found
        assert lost == set(), f"{len(lost)} acknowledged whips are lost after {kills} kills"
        assert found <= ledger.sent
    assert len(ledger.kept) >= (WANTED if engine.dialect.name == "sqlite" else KILLS["postgresql"])
    figures = (
        f"{kills} kills, {len(ledger.kept)} acknowledged whips, {len(found)} there, 0 lost, 0 halves,"
        f" {ledger.busy} told to try again"
    )
    record_property(engine.dialect.name, figures)
    print(f"{engine.dialect.name}: {figures}")
    engine.dispose()
