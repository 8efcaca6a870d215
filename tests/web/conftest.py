"""The bundled study, worked once for all tests of a process, and a browser for the tests of one file."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.web.live import chromium, make_study, served


@pytest.fixture(scope="session")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder whose study.db holds the bundled study, reduced, compared and written up; copy before writing."""
    folder = tmp_path_factory.mktemp("worked")
    make_study(folder / "study.db")
    return folder


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Open the browser; a file of tests has its own, since only one may be driven from a thread at a time."""
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=chromium(), args=["--no-sandbox"])
        try:
            yield opened
        finally:
            opened.close()


@pytest.fixture(scope="module")
def workbench(worked: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a copy of the worked study and yield its address."""
    folder = tmp_path_factory.mktemp("served") / "study"
    shutil.copytree(worked, folder)
    with served(folder / "study.db") as address:
        yield address


@pytest.fixture(scope="module")
def empty_workbench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve an empty shelf and yield its address."""
    with served(tmp_path_factory.mktemp("empty") / "study.db") as address:
        yield address
