"""The wheel holds exactly the tracked files of the mapped folders, and nothing lands outside plaitlog/."""

import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FOLDERS = ("migrations", "models", "seed_demo", "service")


def tracked_files() -> set[str]:
    listing = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "--", *FOLDERS],
        cwd=ROOT, check=True, capture_output=True, text=True,
    ).stdout  # fmt: skip
    return {line for line in listing.splitlines() if (ROOT / line).exists()}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    folder = tmp_path_factory.mktemp("wheel")
    source = folder / "source"
    source.mkdir()
    for name in [*sorted(tracked_files()), "pyproject.toml", "README.md", "LICENSE"]:
        (source / name).parent.mkdir(parents=True, exist_ok=True)
        (source / name).write_bytes((ROOT / name).read_bytes())
    build = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(source)]
    subprocess.run(build, check=True, capture_output=True)
    return zipfile.ZipFile(next(folder.glob("*.whl")))


def test_wheel_holds_the_tracked_files(wheel: zipfile.ZipFile) -> None:
    packed = {name for name in wheel.namelist() if ".dist-info/" not in name}
    assert packed == {f"plaitlog/{name}" for name in tracked_files()}


def test_every_package_is_listed() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    packages = {
        "plaitlog." + str(Path(name).parent).replace("/", ".")
        for name in tracked_files()
        if name.endswith("__init__.py")
    }
    assert packages == set(settings["tool"]["setuptools"]["packages"])


def test_the_command_is_an_entry_point(wheel: zipfile.ZipFile) -> None:
    name = next(name for name in wheel.namelist() if name.endswith("entry_points.txt"))
    assert "plaitlog = plaitlog.service.cli.main:main" in wheel.read(name).decode()
