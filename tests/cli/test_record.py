"""``plaitlog record`` at a prompt: piped, on a terminal, broken off at any answer."""

import json
import os
import pty
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.cli.conftest import Run
from tests.cli.lines import FELL, RIDGE, text

OLD = [
    "", "",  # units
    "N-07", "stock whip", "Orrin", "", "",
    "6'",
    "core 12A; ~20: -2; ?: -2; 28..34: end", "ridge",
    "overlay 16B; 30: -2 each 4 to 8 tuck 3; p", "fell", "",
    "thick 18,5; mid 13; p 7,2", "",
    "green notebook",
    "yes",
]  # fmt: skip
"""An old whip, answer by answer."""


@pytest.fixture
def workshop(run: Run, file: Callable[..., str]) -> Run:
    run("import", file(*text(RIDGE, FELL)))
    return run


def exported(run: Run) -> dict[str, object]:
    found: dict[str, object] = json.loads(run("export").stdout.splitlines()[-1])
    return found


def test_an_old_whip_is_recorded_from_standard_input(workshop: Run) -> None:
    told = workshop("record", "--old", typed="\n".join(OLD))
    assert told.stdout == "N-07 is in the workshop, with 3 readings.\n"
    assert "= overlay: 16 strands of B" in told.stderr
    assert exported(workshop)["label"] == "N-07"
    assert exported(workshop)["readings_text"] == "in mm: thick 18,5; mid 13; p 7,2"


def test_the_units_are_remembered(workshop: Run, home: Path) -> None:
    workshop("record", "--old", typed="\n".join(["mm", "mm", *OLD[2:]]).replace("6'", "1830"))
    assert json.loads((home / "preferences.json").read_text())["units"] == {
        "lengths": "mm",
        "diameters": "mm",
        "fractions": True,
        "decimal_comma": False,
    }
    workshop("record", "--old", typed="\n".join(["N-08", *OLD[3:]]))
    assert "1830 mm" in workshop("whips").stdout


@pytest.mark.parametrize("answers", range(len(OLD)))
def test_broken_off_after_any_answer_it_goes_on_there(workshop: Run, answers: int) -> None:
    broken = workshop("record", "--old", typed="".join(f"{answer}\n" for answer in OLD[:answers]), code=1)
    assert "plaitlog record goes on from there" in broken.stderr
    assert exported(workshop)["kind"] == "cord"
    went_on = workshop("record", "--old", typed="\n".join(OLD[answers:]))
    assert "N-07 is in the workshop" in went_on.stdout
    assert exported(workshop)["notes"] == "green notebook"
    assert "Going on" not in workshop("record", typed="", code=1).stderr


def test_a_wrong_answer_is_asked_again_with_what_to_mend(workshop: Run) -> None:
    typed = [*OLD[:8], "core 12A; 20: -20", *OLD[8:]]
    told = workshop("record", "--old", typed="\n".join(typed))
    assert "drops more than the 12 of A that run there" in told.stderr
    assert exported(workshop)["label"] == "N-07"


def test_a_whip_broken_off_can_be_put_aside(workshop: Run, home: Path) -> None:
    workshop("record", "--old", typed="\n".join(OLD[:5]) + "\n", code=1)
    workshop("record", "--old", "--anew", typed="\n".join(["N-08", *OLD[3:]]))
    assert exported(workshop)["label"] == "N-08"
    (aside,) = (home / "drafts").glob("*-1.json")
    assert "N-07" in aside.read_text()


def test_no_at_the_end_goes_back_and_nothing_is_stored_before_yes(workshop: Run) -> None:
    typed = [*OLD[:-1], "back", "blue notebook", "yes"]
    workshop("record", "--old", typed="\n".join(typed))
    assert exported(workshop)["notes"] == "blue notebook"


class Terminal:
    """The command on a pseudo-terminal, driven as by a person."""

    def __init__(self, process: "subprocess.Popen[bytes]", handle: int) -> None:
        self.process = process
        self.handle = handle
        self.shown = ""

    def wait_for(self, words: str, seconds: float = 30) -> None:
        """Read until ``words`` are on the screen below what was waited for before."""
        until = time.monotonic() + seconds
        while words not in self.shown:
            if time.monotonic() > until or not select.select([self.handle], [], [], seconds)[0]:
                raise AssertionError(f"{words!r} never came; on the screen: {self.shown!r}")
            try:
                self.shown += os.read(self.handle, 65_536).decode()
            except OSError:
                raise AssertionError(f"ended before {words!r}: {self.shown!r}") from None
        self.shown = self.shown.partition(words)[2]

    def type(self, typed: str) -> None:
        os.write(self.handle, typed.encode())


@contextmanager
def terminal(*arguments: str) -> Iterator[Terminal]:
    master, slave = pty.openpty()
    # A shell that runs tests in the background has its children ignore an interrupt.
    heed = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)"
    command = [
        sys.executable,
        "-c",
        f"{heed}; from plaitlog.service.cli.main import main; main()",
        *arguments,
    ]
    process = subprocess.Popen(
        command, stdin=slave, stdout=slave, stderr=slave, env={**os.environ, "TERM": "xterm"}, close_fds=True
    )
    os.close(slave)
    try:
        yield Terminal(process, master)
    finally:
        if process.poll() is None:
            process.kill()
        process.wait()
        os.close(master)


PROMPTS = ("[in]: ", "[mm]: ", "Label", "Type", "Maker", "Finished", "Stations", "Thong", "[core]")


def answer_up_to(screen: Terminal, prompt: str) -> None:
    """Answer as in ``OLD`` until a prompt stands on the screen."""
    for awaited, typed in zip(PROMPTS, OLD, strict=False):
        screen.wait_for(awaited)
        if awaited == prompt:
            return
        screen.type(f"{typed}\r")


def test_on_a_terminal_a_wrong_answer_stands_there_to_be_mended(workshop: Run) -> None:
    with terminal("record", "--old") as screen:
        answer_up_to(screen, "[core]")
        screen.type("core 12A; 20: -20\r")
        screen.wait_for("drops more than the 12 of A that run there")
        screen.wait_for("core 12A; 20: -20")  # stands there already
        screen.type("\x7f; p\r")
        screen.wait_for("at 20 in 10")
        screen.wait_for("Cord A")
        screen.type("ridge\r")
        screen.wait_for("Layer 2")


@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGKILL, signal.SIGTERM])
def test_however_it_ends_what_was_answered_is_kept(workshop: Run, ending: signal.Signals) -> None:
    with terminal("record", "--old") as screen:
        answer_up_to(screen, "Maker")
        time.sleep(0.3)  # nobody interrupts before the prompt is drawn
        screen.process.send_signal(ending)
        screen.process.wait(timeout=20)
    went_on = workshop("record", typed="\n".join(OLD[4:]))
    assert "Going on with N-07" in went_on.stderr
    assert exported(workshop)["type"] == "stock whip"
