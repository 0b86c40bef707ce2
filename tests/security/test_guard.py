"""Who may ask, and by which name; what every answer carries; that looking changes nothing."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine, MetaData, select
from starlette.testclient import TestClient

from plaitlog.service.guard import host_name
from tests.api.conftest import fill
from tests.api.server import API, given, refused, serving

OWN = ["127.0.0.1:8765", "127.0.0.1", "localhost:8765", "LOCALHOST", "[::1]:8765", "[::1]"]
FOREIGN = [
    "workshop.example",
    "workshop.example:8765",
    "127.0.0.1.workshop.example",
    "localhost.workshop.example",
    "127.0.0.2",
    "192.168.1.20:8765",
    "0.0.0.0:8765",
    "2130706433",
    "localhost@workshop.example",
    "workshop.example/localhost",
    "localhost workshop.example",
    "[::1",
    "",
]
CHANGING = [
    ("POST", f"{API}/makers"),
    ("POST", f"{API}/imports"),
    ("POST", f"{API}/fits"),
    ("POST", f"{API}/fits/1/in-force"),
    ("POST", f"{API}/predictions"),
    ("PATCH", f"{API}/whips/2026-014"),
    ("DELETE", f"{API}/whips/2026-014?version=1"),
    ("PUT", f"{API}/nothing"),
]
ELSEWHERE = [
    {"Origin": "http://workshop.example"},
    {"Origin": "null"},
    {"Origin": ""},
    {"Origin": "http://127.0.0.1:9999"},
    {"Origin": "http://localhost:8765"},
    {"Origin": "http://127.0.0.1:8765.workshop.example"},
    {"Origin": "file://127.0.0.1:8765"},
    {"Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "same-site"},
    {"Sec-Fetch-Site": "cross-site", "Origin": "http://127.0.0.1:8765"},
]


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    database = str(tmp_path_factory.mktemp("guarded") / "plaitlog.db")
    fill(database)
    with serving(database) as client:
        yield client


@pytest.mark.parametrize("host", OWN)
def test_the_names_of_this_computer_are_answered(server: TestClient, host: str) -> None:
    given(server.get("/healthz", headers={"Host": host}))


@pytest.mark.parametrize("host", FOREIGN)
@pytest.mark.parametrize("address", ["/healthz", f"{API}/whips", f"{API}/openapi.json", API, "/nothing"])
def test_a_name_that_somebody_made_point_here_is_refused(server: TestClient, host: str, address: str) -> None:
    assert refused(server.get(address, headers={"Host": host}), 403, "foreign-host")["where"] == "Host"


def test_two_host_headers_are_refused(server: TestClient) -> None:
    twice = [("Host", "127.0.0.1"), ("Host", "workshop.example")]
    refused(server.get("/healthz", headers=twice), 403, "foreign-host")


@pytest.mark.parametrize(("method", "address"), CHANGING)
def test_a_page_from_elsewhere_changes_nothing(server: TestClient, method: str, address: str) -> None:
    before = content(server)
    for headers in ELSEWHERE:
        refused(server.request(method, address, headers=headers, json={"name": "x"}), 403, "foreign-origin")
    assert content(server) == before


def test_the_own_pages_and_programs_may_change_things(server: TestClient) -> None:
    own = {"Origin": "http://127.0.0.1:8765", "Sec-Fetch-Site": "same-origin"}
    given(server.post(f"{API}/makers", json={"name": "Wren"}, headers=own), 201)
    given(server.post(f"{API}/makers", json={"name": "Ash"}), 201)
    given(server.post(f"{API}/makers", json={"name": "Elm"}, headers={"Sec-Fetch-Site": "none"}), 201)


def test_no_other_page_is_allowed_to_read_an_answer(server: TestClient) -> None:
    asking = {"Origin": "http://workshop.example", "Access-Control-Request-Method": "POST"}
    for answer in (
        server.options(f"{API}/makers", headers=asking),
        server.get(f"{API}/makers", headers=asking),
    ):
        assert not [name for name in answer.headers if name.startswith("access-control")]
        assert answer.headers["cross-origin-resource-policy"] == "same-origin"


@pytest.mark.parametrize(
    ("method", "address", "status"),
    [
        ("GET", "/healthz", 200),
        ("GET", f"{API}/whips", 200),
        ("GET", f"{API}/exports/records.jsonl", 200),
        ("GET", API, 200),
        ("GET", f"{API}/openapi.json", 200),
        ("GET", "/nothing", 404),
        ("PUT", f"{API}/whips", 405),
        ("GET", f"{API}/whips?limit=0", 422),
        ("POST", f"{API}/makers", 415),
    ],
)
def test_every_answer_carries_what_holds_a_browser_back(
    server: TestClient, method: str, address: str, status: int
) -> None:
    answer = server.request(method, address)
    assert answer.status_code == status
    headers = answer.headers
    assert headers["x-content-type-options"] == "nosniff"
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["cache-control"] == "no-store"
    assert headers["referrer-policy"] == "no-referrer"
    assert "set-cookie" not in headers
    assert "server" not in headers


def test_looking_changes_nothing(server: TestClient) -> None:
    before = content(server)
    description = given(server.get(f"{API}/openapi.json"))
    fillings = {"name": "Ridge%204%20mm", "label": "2026-014", "key": "1", "other": "1", "table": "whips"}
    looked = 0
    for path, methods in description["paths"].items():
        if "get" in methods:
            name = "Orrin" if "makers" in path else fillings["name"]
            answer = server.get(path.format(**{**fillings, "name": name}))
            assert answer.status_code in {200, 404}, path
            looked += answer.status_code == 200
    assert looked >= 14
    assert content(server) == before


def test_with_the_network_let_in_numbers_pass_and_foreign_names_do_not(tmp_path: Path) -> None:
    with serving(str(tmp_path / "a.db"), allow_lan=True) as client:
        for host in (*OWN, "192.168.1.20:8765", "[fe80::1]:8765"):
            given(client.get("/healthz", headers={"Host": host}))
        for host in ("workshop.example", "127.0.0.1.workshop.example"):
            refused(client.get("/healthz", headers={"Host": host}), 403, "foreign-host")
        here = {"Host": "192.168.1.20:8765", "Origin": "http://192.168.1.20:8765"}
        given(client.post(f"{API}/makers", json={"name": "Wren"}, headers=here), 201)
        there = {**here, "Origin": "http://192.168.1.21:8765"}
        refused(client.post(f"{API}/makers", json={"name": "Ash"}, headers=there), 403, "foreign-origin")


@pytest.mark.parametrize(
    ("host", "name"),
    [("LocalHost:1", "localhost"), ("[::1]:80", "::1"), ("a:b@c", ""), ("a/b", ""), ("[x", ""), ("", "")],
)
def test_the_name_is_told_from_the_port(host: str, name: str) -> None:
    assert host_name(host) == name


def content(server: TestClient) -> str:
    """A hash of every row of every table."""
    engine: Engine = server.app.state.engine  # type: ignore[attr-defined]
    tables = MetaData()
    tables.reflect(engine)
    digest = hashlib.sha256()
    with engine.execution_options(read_only=True).connect() as connection:
        for table in tables.sorted_tables:
            for row in connection.execute(select(table).order_by(*table.primary_key.columns)):
                digest.update(f"{table.name}{tuple(row)}".encode())
    return digest.hexdigest()
