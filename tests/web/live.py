"""A workbench that a real browser opens: served on this machine, with everything the pages did wrong noted down."""

from __future__ import annotations

import asyncio
import contextlib
import re
import shutil
import socket
import threading
import time
from collections.abc import Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import urlsplit

from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Request

from wringout.web.app import make_app
from wringout.web.serving import server_for
from wringout.web.settings import Settings

Answer = TypeVar("Answer")
SLUG = "quillback-go-around"
ARTEFACTS = Path(__file__).resolve().parents[2] / "artefacts" / "pages"
"""Where the tests leave what the browser showed, for a person to look at; git ignores it."""
WAIT_MS = 60_000
"""How long something may take before it counts as lost; what is there is seen at once."""
WORK_MS = 300_000
"""The same for work in the background, where other programs may have the machine too."""


def clock() -> datetime:
    """Return the present moment."""
    return datetime.now(UTC)


def shot(page: Page, name: str) -> None:
    """Leave a picture of a whole page among the artefacts."""
    ARTEFACTS.mkdir(parents=True, exist_ok=True)
    path = ARTEFACTS / f"{re.sub(r'[^a-z0-9]+', '-', name.lower()).strip('-')}.png"
    page.screenshot(path=path, full_page=True, caret="initial")  # hiding the caret would write a style into the page


def chromium() -> str:
    """Return where the browser is."""
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert found is not None, "the tests of pages need a Chromium: make test installs it, or install it by hand"
    return found


@contextlib.contextmanager
def served(database: Path) -> Iterator[str]:
    """Serve a database on a free port of this machine and yield the address, without a slash at its end."""
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    app = make_app(Settings(database, clock))
    server = server_for(app)
    server.config.timeout_graceful_shutdown = 1
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive(), "the workbench did not start"
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(20.0)


@dataclass
class Watched:
    """A window of the browser with what went wrong in it."""

    context: BrowserContext
    page: Page
    address: str
    wrong: list[str] = field(default_factory=list)

    def open(self, path: str) -> Page:
        """Open a page by its path and return the page."""
        self.page.goto(self.address + path)
        return self.page

    def watch(self, page: Page) -> Page:
        """Note errors of the console and of scripts, and requests that leave the machine's own address."""
        page.on("console", self._heard)
        page.on("pageerror", lambda error: self.wrong.append(f"{page.url}: {error}"))
        page.on("request", self._asked)
        return page

    def _heard(self, message: ConsoleMessage) -> None:
        # The browser itself reports every refusal as an error; the refusal is what such a test is about.
        refused = re.search(r"Failed to load resource.* (404|409|422) ", message.text)
        if message.type == "error" and not refused:
            self.wrong.append(f"{self.page.url}: {message.text} ({message.location})")

    def _asked(self, request: Request) -> None:
        parts = urlsplit(request.url)
        if parts.scheme not in {"data", "blob", "about"} and f"{parts.scheme}://{parts.netloc}" != self.address:
            self.wrong.append(f"{self.page.url} asked {request.url}")


@contextlib.contextmanager
def window(browser: Browser, address: str, width: int = 1440, height: int = 900, **more: Any) -> Iterator[Watched]:
    """Open a window of its own, with its own cookies; nothing may have gone wrong in it when it closes."""
    context = browser.new_context(viewport={"width": width, "height": height}, accept_downloads=True, **more)
    context.set_default_timeout(WAIT_MS)
    watched = Watched(context, context.new_page(), address)
    watched.watch(watched.page)
    try:
        yield watched
    finally:
        context.close()
    assert not watched.wrong, "\n".join(watched.wrong)


def run_apart(work: Coroutine[Any, Any, Answer]) -> Answer:
    """Run a coroutine in a thread of its own: a browser held open for the package keeps a loop running in this one."""
    with ThreadPoolExecutor(max_workers=1) as pool:
        return pool.submit(asyncio.run, work).result()
