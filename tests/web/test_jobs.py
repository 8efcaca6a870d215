"""Work in the background: it tells how far it is, stops when told, survives its worker, and never goes silent."""

from __future__ import annotations

import os
import re
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.web.long_work import HERE
from wringout.services.opening import open_studies
from wringout.services.study.studies import make_study
from wringout.web import jobs as jobs_module
from wringout.web.app import make_app
from wringout.web.jobs import STEPS_ASIDE, Job, Jobs, JobState
from wringout.web.pages import findings
from wringout.web.settings import Settings

LONGEST_S = 60.0


def clock() -> datetime:
    return datetime(2027, 5, 1, 12, tzinfo=UTC)


def wait_for(jobs: Jobs, number: int, fits: Callable[[Job], bool]) -> Job:
    """Return a job as soon as it is what is waited for."""
    end = time.monotonic() + LONGEST_S
    while time.monotonic() < end:
        found = jobs.find(number)
        assert found is not None
        if fits(found):
            return found
        time.sleep(0.01)
    raise AssertionError(f"never came: {found}")


def ended(job: Job) -> bool:
    return not job.is_open


@pytest.fixture
def jobs(tmp_path: Path) -> Iterator[Jobs]:
    made = Jobs(tmp_path / "study.db")
    yield made
    made.close()


def begin(jobs: Jobs, function: str, **arguments: Any) -> Job:
    return jobs.start("one", function, "Some work", "/there", f"{HERE}:{function}", **arguments)


def test_work_says_how_far_it_is_is_begun_once_and_its_worker_goes_on(jobs: Jobs, tmp_path: Path) -> None:
    first = begin(jobs, "until_let_go", gate=str(tmp_path / "gate"))
    told = wait_for(jobs, first.number, lambda job: job.share > 0.0)
    assert (told.state, told.share, told.words) == (JobState.RUNNING, 0.4, "nearly half way")
    assert begin(jobs, "until_let_go", gate="another").number == first.number
    (tmp_path / "gate").touch()
    assert wait_for(jobs, first.number, ended).said == "let go"
    failed = wait_for(jobs, begin(jobs, "refused").number, ended)
    assert (failed.state, "row 7" in failed.said) == (JobState.FAILED, True)
    assert wait_for(jobs, begin(jobs, "until_let_go", gate=str(tmp_path / "gate")).number, ended).said == "let go"


def test_stopped_work_ends_and_the_next_is_done(jobs: Jobs, tmp_path: Path) -> None:
    first = begin(jobs, "until_let_go", gate=str(tmp_path / "never"))
    wait_for(jobs, first.number, lambda job: job.share > 0.0)
    waiting = begin(jobs, "refused")
    jobs.stop(waiting.number)
    jobs.stop(first.number)
    assert [found.state for found in jobs.every()] == [JobState.STOPPED, JobState.STOPPED]
    (tmp_path / "gate").touch()
    assert wait_for(jobs, begin(jobs, "until_let_go", gate=str(tmp_path / "gate")).number, ended).said == "let go"


def test_a_worker_that_dies_is_told_and_replaced(jobs: Jobs) -> None:
    died = wait_for(jobs, begin(jobs, "dies").number, ended)
    assert (died.state, "ended unexpectedly" in died.said) == (JobState.FAILED, True)
    assert "row 7" in wait_for(jobs, begin(jobs, "refused").number, ended).said


@pytest.mark.skipif(not hasattr(os, "getpriority"), reason="this system has no nice")
def test_a_worker_stands_back_behind_the_pages_and_the_taps(jobs: Jobs) -> None:
    behind = min(os.getpriority(os.PRIO_PROCESS, 0) + STEPS_ASIDE, 19)
    told = wait_for(jobs, begin(jobs, "stands_back").number, ended)
    assert told.said == f"{behind} in its own session"


def test_without_room_for_a_worker_the_work_fails_in_words(jobs: Jobs, monkeypatch: pytest.MonkeyPatch) -> None:
    """A thread that ended here would leave this job and every later one waiting for ever, without a word."""

    def no_room(database: Path) -> object:
        raise BlockingIOError(11, "Resource temporarily unavailable")

    with monkeypatch.context() as patched:
        patched.setattr(jobs_module, "_Worker", no_room)
        told = wait_for(jobs, begin(jobs, "refused").number, ended)
    assert (told.state, "could not be begun" in told.said) == (JobState.FAILED, True)
    assert "row 7" in wait_for(jobs, begin(jobs, "refused").number, ended).said


def test_a_page_never_calls_work_done_and_shows_what_was_there_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Work that ends while a page is being read: the page still waits, so the browser comes back for the result."""
    database = tmp_path / "study.db"
    with open_studies(database, clock) as store:
        make_study(store, "Which first", "Gear or flaps first?", {}, slug="which-first")
    with TestClient(make_app(Settings(database, clock)), base_url="http://127.0.0.1:8000") as client:
        jobs: Jobs = client.app.state.site.jobs  # type: ignore[attr-defined]
        gate = tmp_path / "gate"
        job = jobs.start("which-first", "reduction", "Reducing the runs", "/", f"{HERE}:until_let_go", gate=str(gate))
        wait_for(jobs, job.number, lambda found: found.share > 0.0)

        def ends_now(*_: object) -> tuple[None, bool]:
            gate.touch()
            wait_for(jobs, job.number, ended)
            return None, False

        monkeypatch.setattr(findings, "newest_reduction", ends_now)
        page = client.get("/studies/which-first/findings").text
        assert re.findall(r'data-job="reduction" data-state="(\w+)"', page) == ["running"]
        later = client.get("/studies/which-first/jobs").text
        assert re.findall(r'data-job="reduction" data-state="(\w+)"', later) == ["done"]
