"""Commands start without what they do not need."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

HEAVY = {"pandas", "sklearn", "statsmodels", "altair", "joblib", "scipy.stats", "rich.table"}
PROBE = """
import json, sys
sys.argv = json.loads(sys.argv[1])
from plaitlog.service.cli.main import app
try:
    app()
except SystemExit as end:
    code = end.code
print(json.dumps([code, sorted(sys.modules)]), file=sys.stderr)
"""


def loaded(folder: Path, *arguments: str) -> set[str]:
    """The modules that a command loaded in a fresh interpreter."""
    environment = {**os.environ, "XDG_DATA_HOME": str(folder), "PLAITLOG_DATABASE_URL": str(folder / "a.db")}
    argv = json.dumps(["plaitlog", *arguments])
    command = [sys.executable, "-W", "error", "-c", PROBE, argv]
    done = subprocess.run(command, capture_output=True, text=True, env=environment, check=True)
    code, modules = json.loads(done.stderr.splitlines()[-1])
    assert code == 0, done.stderr
    return set(modules)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workshop with one whip."""
    from tests.cli.lines import FELL, RIDGE, text, whip

    made = tmp_path_factory.mktemp("start")
    (made / "records.jsonl").write_text("\n".join(text(RIDGE, FELL, whip())))
    loaded(made, "import", str(made / "records.jsonl"))
    return made


@pytest.mark.parametrize(
    "arguments",
    [
        ("cords",),
        ("whips",),
        ("show", "2026-014"),
        ("export",),
        ("import", "records.jsonl"),
        ("predict", "core 6; overlay 16", "--cord", "Fell 3 mm"),
        ("fits",),
        ("advise", "Fell 3 mm"),
    ],
)
def test_no_command_that_looks_or_predicts_loads_what_only_fitting_needs(
    folder: Path, arguments: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    assert loaded(folder, *arguments) & HEAVY == set()


def test_help_loads_neither_the_database_nor_any_mathematics(folder: Path) -> None:
    modules = loaded(folder, "--help")
    assert not modules & (HEAVY - {"rich.table"} | {"numpy", "scipy", "sqlalchemy", "alembic"})


@pytest.mark.parametrize("command", ["cords", "whips", "export"])
def test_lists_need_no_mathematics_and_no_migration_tool(folder: Path, command: str) -> None:
    assert not loaded(folder, command) & {"numpy", "scipy", "alembic"}
