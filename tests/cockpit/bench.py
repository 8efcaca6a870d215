"""A browser with a profile of its own on disk, a host for the page of taps, and a receiver that can be cut off."""

from __future__ import annotations

import contextlib
import http.server
import json
import os
import shutil
import signal
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, Page, Playwright

from wringout.cockpit.page import folder_files

CARD: dict[str, Any] = {
    "format": "wringout capture card, version 1",
    "flight": "flight-one",
    "title": "Invented flight",
    "unit": "kt",
    "deliver": "",
    "key": "",
    "points": [
        {
            "key": "g1",
            "title": "Gear down from 120 kt",
            "marks": ["power set", "gear down", "gear down and locked", "stable"],
            "timers": ["gear"],
            "first_kt": 120,
            "step_kt": 1,
            "every_s": 6,
            "stop": ["below 85 kt", "first buffet"],
        },
        {
            "key": "f1",
            "title": "Flaps full from 105 kt",
            "marks": ["power set", "flaps moving", "flaps full", "stable"],
            "timers": ["flaps"],
            "first_kt": 105,
            "step_kt": 1,
            "every_s": 6,
            "stop": [],
        },
    ],
}


class Receiver:
    """Takes taps as the workbench does: known by place, answered with the last place of an unbroken row."""

    def __init__(self) -> None:
        self.taps: dict[int, dict[str, Any]] = {}
        self.posts = 0
        self.lose_answers = False

    def take(self, body: dict[str, Any]) -> dict[str, Any]:
        self.posts += 1
        for tap in body["taps"]:
            known = self.taps.setdefault(tap["sequence"], tap)
            assert known == tap
        have = 0
        while have + 1 in self.taps:
            have += 1
        return {"have": have, "now_ms": 1000.0 * time.time()}


@contextlib.contextmanager
def host(card: dict[str, Any] | None) -> Iterator[tuple[str, Receiver]]:
    """Serve the page's folder on a loopback address; the receiver stands at ``taps``."""
    receiver = Receiver()
    files = folder_files(card)
    types = {"html": "text/html", "js": "text/javascript", "css": "text/css", "svg": "image/svg+xml"}

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            name = self.path.lstrip("/") or "index.html"
            body = files.get(name)
            self.send_response(200 if body is not None else 404)
            self.send_header("Content-Type", types.get(name.rpartition(".")[2], "application/json"))
            self.end_headers()
            self.wfile.write(body or b"")

        def do_POST(self) -> None:
            body = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
            reply = json.dumps(receiver.take(body)).encode()
            self.send_response(503 if receiver.lose_answers else 200)
            self.send_header("Content-Type", "application/json")
            self.end_headers()
            self.wfile.write(reply)

        def log_message(self, *_: object) -> None:
            return

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/", receiver
    finally:
        server.shutdown()
        server.server_close()


def chromium() -> str:
    """Return where the browser is."""
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert found is not None, "the tests of pages need a Chromium: make test installs it, or install it by hand"
    return found


def open_context(playwright: Playwright, profile: Path, **more: Any) -> BrowserContext:
    """Open a browser that keeps its database in a folder, so that it can be killed and opened again."""
    return playwright.chromium.launch_persistent_context(
        profile,
        executable_path=chromium(),
        args=["--no-sandbox"],
        viewport={"width": 390, "height": 844},
        accept_downloads=True,
        **more,
    )


def kill(profile: Path) -> None:
    """End every process of the browser that uses a profile, as a battery does, without asking."""
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with contextlib.suppress(OSError):
                if str(profile) in (entry / "cmdline").read_bytes().decode(errors="replace"):
                    os.kill(int(entry.name), signal.SIGKILL)
    for lock in profile.glob("Singleton*"):
        lock.unlink(missing_ok=True)


def ready(page: Page, url: str) -> None:
    """Open the page and wait for its keys."""
    page.goto(url)
    page.locator("#view-marks button").first.wait_for()


def log_of(page: Page) -> list[dict[str, Any]]:
    """Return the events of the log that the page hands over as a file."""
    page.locator("nav button", has_text="More").click()
    with page.expect_download() as handed:
        page.locator("#hand-over").click()
    lines = Path(handed.value.path()).read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines[1:]]
