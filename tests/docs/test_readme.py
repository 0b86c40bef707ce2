"""The README keeps its word: its commands run, its records import, its first paragraph states the job."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from plaitlog.seed_demo.workshop import seed
from plaitlog.service.database import writing
from plaitlog.service.migrate import ready_engine
from tests.docs.readme_commands import README, readme_command

TEXT = README.read_text(encoding="utf-8")
FOLDER = str(Path(sys.executable).parent)


def block(name: str) -> list[str]:
    """The command lines of a tour, without their remarks."""
    found = re.search(rf"^```sh\n# {re.escape(name)}\n(.*?)^```", TEXT, flags=re.S | re.M)
    assert found is not None
    return [line.split("   #")[0].rstrip() for line in found[1].splitlines()]


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the demo's records, the README's records and a question beside them."""
    folder = tmp_path_factory.mktemp("bench")
    engine, _ = ready_engine(str(folder / "records.db"))
    with writing(engine) as session:
        seed(session)
    engine.dispose()
    records = [line for line in TEXT.splitlines() if line.startswith('{"kind"')]
    (folder / "whips.jsonl").write_text("\n".join(records) + "\n", encoding="utf-8")
    notebook = re.search(r"^```\n(Whip;.*?)^```", TEXT, flags=re.S | re.M)
    assert notebook is not None
    (folder / "notebook.csv").write_text(notebook[1], encoding="utf-8")
    wanted = re.search(r"^```toml\n(.*?)^```", TEXT, flags=re.S | re.M)
    assert wanted is not None
    (folder / "stock-whip.toml").write_text(wanted[1], encoding="utf-8")
    question = {"id": "a1", "layers": [{"role": "overlay", "cord": "Holm 3 mm", "strands": 12}]}
    (folder / "questions.jsonl").write_text(json.dumps(question) + "\n", encoding="utf-8")
    return folder


def run(folder: Path, command: str) -> str:
    environment = {
        **os.environ,
        "PATH": f"{FOLDER}{os.pathsep}{os.environ['PATH']}",
        "PLAITLOG_DATABASE_URL": str(folder / "records.db"),
        "XDG_DATA_HOME": str(folder / "data"),
    }
    done = subprocess.run(command, shell=True, cwd=folder, env=environment, capture_output=True, text=True)
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


def test_the_tours_run_as_they_stand(bench: Path) -> None:
    tours = ("in and out", "spreadsheets", "changes", "predict", "plan", "handling")
    said = {command: run(bench, command) for tour in tours for command in block(f"tour: {tour}")}
    assert len(said) == 36
    asked = next(text for command, text in said.items() if "--letter" in command)
    assert re.match(r"\d+\.\d mm \(90 %: \d+\.\d to \d+\.\d\)", asked)
    assert json.loads((bench / "answers.jsonl").read_text())["new_cord"] is True
    assert '"label":"2026-014"' in (bench / "everything.jsonl").read_text()
    assert "added 1, updated 0, there already 0, rejected 1" in said[block("tour: spreadsheets")[0]]
    assert "loose heel" in said["plaitlog history O-31"]
    assert "Volley goes with a smaller middle share" in said[block("tour: handling")[2]]
    assert "Fit 2" in said["plaitlog fits --compare 1 2"]
    made = ("everything.xlsx", "card.pdf", "ridge.svg", "drawing.svg", "report/fit.html", "report/fit.json")
    made += ("plan/plan.json", "plan/sheet.pdf", "plan/sheet.html", "plan/drawing.svg")
    made += ("handling/handling.html",)
    assert all((bench / name).stat().st_size > 1_000 for name in made)


def test_the_first_paragraph_states_the_job() -> None:
    first = TEXT.split("\n\n")[1]
    assert first.startswith("Plaitlog is ")
    assert {"records", "learns", "predicts"} <= set(re.findall(r"\w+", first))


def test_both_commands_set_everything_up_themselves() -> None:
    demo, tests = readme_command("demo"), readme_command("tests")
    for command in (demo, tests):
        assert command.startswith(
            "python3 -m venv .venv && .venv/bin/python -m pip install -q -c constraints.txt "
        )
    assert demo.endswith(".venv/bin/plaitlog demo")
    assert ".venv/bin/python -m pytest" in tests


def test_pinned_versions_name_no_host() -> None:
    pins = (README.parent / "constraints.txt").read_text().splitlines()
    assert all(re.fullmatch(r"[A-Za-z0-9_.-]+==[\w.]+", pin) for pin in pins if not pin.startswith("#"))
