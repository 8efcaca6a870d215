"""What tests of pages share: one prepared database for all processes, one browser for all files of a process."""

from __future__ import annotations

import fcntl
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.web.crowd import make_crowd
from tests.web.live import chromium, clock, served


@pytest.fixture(scope="session")
def prepared(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    """Return a folder whose study.db holds two studies: bundled, as taken in; crowded, to the brief. Copy, never write.

    Processes that share the tests share the folder: the first makes it while the others wait.
    """
    base = tmp_path_factory.getbasetemp()
    folder = (base if worker_id == "master" else base.parent) / "prepared"
    with (folder.parent / "prepared.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (folder / "made").exists():
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir()
            make_crowd(folder / "study.db", clock)
            (folder / "made").touch()
    return folder


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """Open the browser. It is closed before another package's tests begin: a thread drives one Playwright at a time."""
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=chromium(), args=["--no-sandbox"])
        try:
            yield opened
        finally:
            opened.close()


@pytest.fixture(scope="module")
def workbench(prepared: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a copy of the prepared studies and yield its address."""
    folder = tmp_path_factory.mktemp("served") / "study"
    shutil.copytree(prepared, folder)
    with served(folder / "study.db") as address:
        yield address


@pytest.fixture(scope="module")
def empty_workbench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve an empty shelf and yield its address."""
    with served(tmp_path_factory.mktemp("empty") / "study.db") as address:
        yield address
