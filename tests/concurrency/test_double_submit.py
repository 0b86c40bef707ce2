"""The same whip sent to the server twice within a moment, as an impatient finger does, is one whip."""

import http.client
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from plaitlog.service.database import write
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.importing import take_records
from tests.crash.length import LONG
from tests.crash.real_server import READINGS, started, whip
from tests.crash.soundness import assert_sound
from tests.usecases.examples import RIDGE

TIMES = 200 if LONG else 20


def post(port: int, label: str, key: str | None) -> int:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    headers = {"Content-Type": "application/json"} | ({"Idempotency-Key": key} if key else {})
    connection.request("POST", "/api/v1/whips", whip(label), headers)
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer.status


@pytest.mark.parametrize(("with_key", "expected"), [(True, [201, 201]), (False, [201, 409])])
def test_exactly_one(tmp_path: Path, with_key: bool, expected: list[int]) -> None:
    """With a key both are told that it is taken; without one the second is told that it is there already."""
    database = str(tmp_path / "plaitlog.db")
    engine, _ = ready_engine(database)
    write(engine, lambda session: take_records(session, [RIDGE]))
    server, port = started(database, tmp_path)
    with ThreadPoolExecutor(2) as pool:
        for number in range(TIMES):
            label = f"w{number}"
            key = label if with_key else None
            both = [pool.submit(post, port, label, key) for _ in range(2)]
            assert sorted(each.result() for each in both) == expected
    server.kill()
    server.communicate()
    assert assert_sound(engine, READINGS) == {f"w{number}" for number in range(TIMES)}
    engine.dispose()
