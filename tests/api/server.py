"""The application in process, spoken to as its own pages would."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import unquote

from starlette.testclient import TestClient
from starlette.types import ASGIApp, Receive, Scope, Send

from plaitlog.service.app import create_app
from plaitlog.service.settings import Settings

API = "/api/v1"
ADDRESS = "http://127.0.0.1:8765"


@contextmanager
def serving(database: str, **settings: Any) -> Iterator[TestClient]:
    """A client of an application on a database of its own."""
    app = create_app(Settings(database_url=database, **settings))
    app.add_middleware(DecodedOnce)
    with TestClient(app, base_url=ADDRESS) as client:
        yield client


class DecodedOnce:
    """Gives the application the path as a server does: the test client decodes it a second time."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            scope["path"] = unquote(scope["raw_path"].decode("ascii"))
        await self.app(scope, receive, send)


def refused(answer: Any, status: int, code: str | None = None) -> dict[str, Any]:
    """The error of an answer that must say no, in the one shape that all of them have."""
    assert answer.status_code == status, answer.text
    body = answer.json()
    assert {"error", "findings"} <= set(body) <= {"error", "findings", "conflict"}
    for found in (body["error"], *body["findings"]):
        assert set(found) == {"code", "text", "remedy", "where"}
        assert all(isinstance(part, str) for part in found.values())
    assert body["error"]["text"]
    if code is not None:
        assert body["error"]["code"] == code
    found_error: dict[str, Any] = body["error"]
    return found_error


def given(answer: Any, status: int = 200) -> Any:
    """The body of an answer that must be good."""
    assert answer.status_code == status, answer.text
    return answer.json()
