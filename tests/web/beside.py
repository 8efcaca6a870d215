"""A workbench asked from its own machine, without a browser, and the work that its pages begin."""

from __future__ import annotations

import contextlib
import importlib
import re
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.testclient import TestClient

from wringout.errors import WringoutError
from wringout.web.app import make_app
from wringout.web.jobs import Job, Jobs
from wringout.web.settings import Settings

LONGEST_S = 120.0
HERE = ("127.0.0.1", 50000)
"""Where a request from the workbench's own machine comes from."""


def clock() -> datetime:
    return datetime(2027, 5, 1, 12, tzinfo=UTC)


@contextlib.contextmanager
def beside(database: Path, client: tuple[str, int] = HERE, app: Starlette | None = None) -> Iterator[TestClient]:
    """Open a workbench as its own machine does, or as ``client`` does."""
    made = app or make_app(Settings(database, clock))
    with TestClient(made, base_url="http://127.0.0.1:8000", client=client) as opened:
        yield opened


def token(client: TestClient, path: str = "/") -> str:
    found = re.search(r'name="form-token" value="([0-9a-f]+)"', client.get(path).text)
    assert found is not None
    return found.group(1)


def work_done(client: TestClient, kind: str) -> Job:
    """Return the newest work of a kind once it has ended."""
    jobs = client.app.state.site.jobs  # type: ignore[attr-defined]
    end = time.monotonic() + LONGEST_S
    while time.monotonic() < end:
        found: Job = [job for job in jobs.every() if job.kind == kind][-1]
        if not found.is_open:
            return found
        time.sleep(0.02)
    raise AssertionError(f"never ended: {found}")


def at_once(jobs: Jobs, study: str, kind: str, title: str, shows: str, function: str, **arguments: Any) -> Job:
    """Do work in this process in the place of ``Jobs.start``; it has ended when it returns."""
    home, _, name = function.partition(":")
    with contextlib.suppress(WringoutError):
        getattr(importlib.import_module(home), name)(jobs._database, _untold, **arguments)
    return Job(0, study, kind, title, shows)


def _untold(share: float, words: str) -> None:
    del share, words
