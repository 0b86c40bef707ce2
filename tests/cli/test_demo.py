"""``plaitlog demo``: the main job on an invented workshop, in a database of its own."""

from pathlib import Path

import pytest

from plaitlog.service.cli import demo
from tests.cli.conftest import Run


def test_the_demo_imports_fits_shows_evidence_and_predicts_a_cord_never_plaited(run: Run, home: Path) -> None:
    told = run("demo").stdout
    assert str(home / "demo.db") in told
    assert "On a cord never recorded" in told
    assert "gradient boosting" in told
    assert "no reading in the fit" in told
    assert "measure while you build" in told
    listed = run("--database", str(home / "demo.db"), "whips").stdout
    assert len(listed.splitlines()) > 60
    assert not (home / "plaitlog.db").exists()


def test_into_takes_only_an_empty_database(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = str(tmp_path / "mine.db")
    run("cords", "add", "--name", "A", "--material", "nylon", "--construction", "cored", "--database", file)
    refused = run("demo", "--into", file, code=2)
    assert "holds records already" in refused.stderr
    assert demo.FILE not in {path.name for path in tmp_path.rglob("*.db")}
