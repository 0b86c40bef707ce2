"""``plaitlog fit --report`` and ``plaitlog fits --report``."""

import json
from pathlib import Path

from tests.cli.conftest import Run
from tests.usecases.test_reporting_fit import CORDS, whip


def test_the_command_line_writes_the_report_of_a_new_and_of_a_stored_fit(run: Run, tmp_path: Path) -> None:
    lines = "\n".join(json.dumps(record) for record in [*CORDS, *(whip(k) for k in range(4))])
    records = tmp_path / "records.jsonl"
    records.write_text(lines, "utf-8")
    run("import", str(records))
    first, second = tmp_path / "new" / "folder", tmp_path / "again"
    run("fit", "--no-evidence", "--report", str(first))
    run("fits", "--report", "1", str(second))
    assert json.loads((first / "fit.json").read_text("utf-8"))["fit"] == 1
    for name in ("fit.html", "fit.json"):
        assert (first / name).read_bytes() == (second / name).read_bytes()
    (tmp_path / "file").write_text("")
    refused = run("fit", "--no-evidence", "--report", str(tmp_path / "file" / "x"), code=2)
    assert "name another folder" in refused.stderr
