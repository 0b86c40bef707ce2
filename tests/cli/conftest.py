"""A user's machine for the command line: an empty data folder, no settings, one way to run a command."""

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import pytest
from typer.testing import CliRunner, Result

from plaitlog.service.cli.main import app


class Run(Protocol):
    def __call__(self, *arguments: str, typed: str | None = None, code: int = 0) -> Result: ...


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's data folder, not yet there."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "share"))
    monkeypatch.delenv("PLAITLOG_DATABASE_URL", raising=False)
    monkeypatch.chdir(tmp_path)
    return tmp_path / "share" / "plaitlog"


@pytest.fixture
def run(home: Path) -> Run:
    """Runs a command as a user would, and expects its exit code."""

    def run(*arguments: str, typed: str | None = None, code: int = 0) -> Result:
        result = CliRunner().invoke(app, list(arguments), input=typed)
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        assert result.exit_code == code, result.output
        return result

    return run


@pytest.fixture
def file(tmp_path: Path) -> Callable[..., str]:
    """Writes lines to a file and gives its name."""

    def write(*lines: str | bytes, name: str = "records.jsonl") -> str:
        path = tmp_path / name
        path.write_bytes(b"\n".join(line.encode() if isinstance(line, str) else line for line in lines))
        return str(path)

    return write
