"""The real server and the system's Chromium: pages as a person meets them.

Where there is no Chromium these tests are skipped; in continuous integration (CI=true) they fail instead.
Every page that a test opens is held to the same rules: no request leaves this machine, nothing is written
to the console, no error goes unseen.
"""

import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests.pages.workshops import demo_copy

WIDTHS = (390, 1280)
HEIGHT = 900
PATIENCE_S = 30
Opened = Callable[..., Page]
REFUSED = re.compile(r"Failed to load resource: the server responded with a status of 4(?:09|22)")
"""What the browser itself says of a form that is shown again because something in it is to be mended."""
expect.set_options(timeout=PATIENCE_S * 1000 / 2)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """The system's Chromium."""
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail("there is no Chromium here: install the package chromium")
        pytest.skip("there is no Chromium here: install the package chromium")
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield launched
        launched.close()


class Server:
    """``plaitlog serve`` on a database and a user's data folder of its own."""

    def __init__(self, database: str, folder: Path) -> None:
        environment = {**os.environ, "XDG_DATA_HOME": str(folder / "data")}
        command = [str(Path(sys.executable).with_name("plaitlog")), "serve", "--port", "0"]
        self.log = folder / "server.log"
        with self.log.open("w") as log:
            self.process = subprocess.Popen([*command, "--database", database], env=environment, stderr=log)
        deadline = time.monotonic() + PATIENCE_S
        while (found := re.search(r"http://\S+?:\d+", self.log.read_text())) is None:
            if self.process.poll() is not None or time.monotonic() > deadline:
                self.stop()
                raise AssertionError(self.log.read_text())
            time.sleep(0.05)
        self.address = found[0]

    def stop(self) -> None:
        self.process.terminate()
        self.process.wait(PATIENCE_S)
        assert "Traceback" not in self.log.read_text(), self.log.read_text()


@pytest.fixture(scope="session")
def demo_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a server on the demo with a fit, for tests that only look."""
    folder = tmp_path_factory.mktemp("demo")
    server = Server(demo_copy(folder), folder)
    yield server.address
    server.stop()


@pytest.fixture
def own_demo(tmp_path: Path) -> Iterator[str]:
    """The address of a server on a demo of its own, for tests that write."""
    server = Server(demo_copy(tmp_path), tmp_path)
    yield server.address
    server.stop()


@pytest.fixture
def empty_server(tmp_path: Path) -> Iterator[str]:
    """The address of a server on an empty workshop."""
    server = Server(str(tmp_path / "plaitlog.db"), tmp_path)
    yield server.address
    server.stop()


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opened]:
    """Opens an address as a page: ``opened(address, width=390, dark=True, scripts=False)``."""
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def open_page(address: str, *, width: int = 1280, dark: bool = False, scripts: bool = True) -> Page:
        context = browser.new_context(
            viewport={"width": width, "height": HEIGHT},
            color_scheme="dark" if dark else "light",
            java_script_enabled=scripts,
        )
        context.set_default_timeout(PATIENCE_S * 1000)
        contexts.append(context)
        page = context.new_page()
        own = urlsplit(address).netloc
        page.on(
            "console",
            lambda message: (
                None if REFUSED.match(message.text) else complaints.append(f"console: {message.text}")
            ),
        )
        page.on("pageerror", lambda error: complaints.append(f"error: {error}"))
        page.on(
            "request",
            lambda request: (
                None
                if urlsplit(request.url).netloc in {own, ""}
                else complaints.append(f"request to {request.url}")
            ),
        )
        page.goto(address)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert complaints == []
