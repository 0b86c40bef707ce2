"""Counts the statements that a page asks of its database."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import event
from starlette.testclient import TestClient


@contextmanager
def counted(client: TestClient) -> Iterator[list[str]]:
    """The statements sent within, as a list that grows."""
    engine = client.app.state.engine  # type: ignore[attr-defined]
    sent: list[str] = []

    def note(connection: object, cursor: object, statement: str, *rest: object) -> None:
        sent.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    try:
        yield sent
    finally:
        event.remove(engine, "before_cursor_execute", note)
