"""Where the records are, as set or by default."""

from pathlib import Path

import pytest

from plaitlog.models.errors import InputError
from plaitlog.service.settings import Settings, data_folder


def test_the_default_is_a_file_in_the_users_data_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("PLAITLOG_DATABASE_URL", raising=False)
    assert Path(Settings().database) == data_folder() / "plaitlog.db"
    assert data_folder().is_absolute()
    assert data_folder().name == "plaitlog"


def test_the_environment_goes_before_the_default(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PLAITLOG_DATABASE_URL", "postgresql://ann@shop/whips")
    monkeypatch.setenv("PLAITLOG_LINE_LIMIT_BYTES", "5000000")
    found = Settings()
    assert (found.database, found.line_limit_bytes) == ("postgresql://ann@shop/whips", 5_000_000)


def test_a_limit_that_would_refuse_every_line_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PLAITLOG_LINE_LIMIT_BYTES", "10")
    with pytest.raises(InputError, match=r"PLAITLOG_LINE_LIMIT_BYTES: '10' cannot be used.*unset it"):
        Settings()
