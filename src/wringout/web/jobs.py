"""Work that takes longer than a second: in processes of its own, with progress, a way to stop it, and no tie to a page.

A job is a function named as ``module:function``, called in a worker process as ``function(database, progress,
**arguments)``; this process need not even load it.
It opens the store itself and keeps its result there; what it returns is a short sentence for whoever waits. A page that
is closed or loaded again finds the job in the table. Stopping ends the worker process; the store keeps whole
transactions only, so nothing half-written stays.
"""

from __future__ import annotations

import contextlib
import importlib
import itertools
import multiprocessing
import os
import queue
import signal
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from wringout.errors import WringoutError

WORKERS = 1
"""Reduction and matchup use all cores themselves."""
KEPT_JOBS = 40
SAY_EVERY_S = 0.1
STEPS_ASIDE = 10
"""How far a worker stands back behind the pages, in steps of ``nice``: it gets a tenth where both want a processor."""
AUTOGROUP = Path("/proc/self/autogroup")

Progress = Callable[[float, str], None]
"""Called with the share done, 0 to 1, and what is being done."""


class JobState(StrEnum):
    """How far a job is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class Job:
    """A job as it stands. ``said`` is the sentence it ended with; ``shows`` the address where its result is seen."""

    number: int
    study: str
    kind: str
    title: str
    shows: str
    state: JobState = JobState.WAITING
    share: float = 0.0
    words: str = ""
    said: str = ""

    @property
    def is_open(self) -> bool:
        """Whether it still waits or runs."""
        return self.state in {JobState.WAITING, JobState.RUNNING}


@dataclass(slots=True)
class _Order:
    number: int
    function: str
    arguments: Mapping[str, Any]
    stop: threading.Event = field(default_factory=threading.Event)


class Jobs:
    """The table of jobs and the workers that do them; threads may share it. Close it at the end."""

    def __init__(self, database: Path, workers: int = WORKERS) -> None:
        self._database = database
        self._lock = threading.Lock()
        self._jobs: dict[int, Job] = {}
        self._orders: dict[int, _Order] = {}
        self._queue: queue.Queue[_Order | None] = queue.Queue()
        self._numbers = itertools.count(1)
        self._threads = [threading.Thread(target=self._work, daemon=True) for _ in range(workers)]
        for thread in self._threads:
            thread.start()

    def start(self, study: str, kind: str, title: str, shows: str, function: str, **arguments: Any) -> Job:
        """Begin a job, or return the one of this kind that the study has going already.

        Args:
            study: the study's short name; "" for none.
            kind: one word; a study has one open job of each kind.
            title: what is being done, such as "Reducing the runs".
            shows: the address where the result is seen.
            function: such as ``wringout.web.work.studies:reduce_runs_of``; see above.
            arguments: passed on by name; they must pickle.
        """
        with self._lock:
            for job in self._jobs.values():
                if job.study == study and job.kind == kind and job.is_open:
                    return job
            job = Job(next(self._numbers), study, kind, title, shows)
            for old in [n for n, known in self._jobs.items() if not known.is_open][: -KEPT_JOBS or None]:
                del self._jobs[old]
            self._jobs[job.number] = job
            order = self._orders[job.number] = _Order(job.number, function, arguments)
        self._queue.put(order)
        return job

    def of_study(self, study: str) -> tuple[Job, ...]:
        """Return a study's jobs that were not dismissed, oldest first."""
        with self._lock:
            return tuple(job for job in self._jobs.values() if job.study == study)

    def every(self) -> tuple[Job, ...]:
        """Return all jobs that were not dismissed, oldest first."""
        with self._lock:
            return tuple(self._jobs.values())

    def find(self, number: int) -> Job | None:
        """Return a job by its number."""
        with self._lock:
            return self._jobs.get(number)

    def stop(self, number: int) -> None:
        """Stop a job; one that has ended stays as it is."""
        with self._lock:
            job, order = self._jobs.get(number), self._orders.get(number)
            if job is None or order is None or not job.is_open:
                return
            order.stop.set()
            self._jobs[number] = replace(job, state=JobState.STOPPED, said="Stopped; nothing half-written was kept.")

    def dismiss(self, number: int) -> None:
        """Take a job that has ended off the table."""
        with self._lock:
            if (job := self._jobs.get(number)) is not None and not job.is_open:
                del self._jobs[number]

    def close(self) -> None:
        """Stop everything and end the workers."""
        with self._lock:
            for order in self._orders.values():
                order.stop.set()
        for _ in self._threads:
            self._queue.put(None)
        for thread in self._threads:
            thread.join(5.0)

    def _change(self, number: int, **changes: Any) -> None:
        with self._lock:
            job = self._jobs.get(number)
            if job is not None and job.is_open:
                self._jobs[number] = replace(job, **changes)

    def _work(self) -> None:
        worker: _Worker | None = None
        while (order := self._queue.get()) is not None:
            if not order.stop.is_set():
                worker = self._do(order, worker)
            with self._lock:
                self._orders.pop(order.number, None)
        if worker is not None:
            worker.end()

    def _do(self, order: _Order, worker: _Worker | None) -> _Worker | None:
        """Do one job, in a new worker where the last one has gone; return the worker that can go on."""
        try:
            if worker is None or not worker.process.is_alive():
                worker = _Worker(self._database)
        except Exception as error:  # without room for a process the job fails, and the next one tries anew
            said = f"The work could not be begun ({type(error).__name__}: {error}); nothing was changed; try again."
            self._change(order.number, state=JobState.FAILED, said=said)
            return None
        self._change(order.number, state=JobState.RUNNING, words="beginning")
        if self._follow(order, worker):
            return worker
        worker.end()
        return None

    def _follow(self, order: _Order, worker: _Worker) -> bool:
        """Follow one job to its end; return whether the worker can go on."""
        try:
            worker.connection.send((order.function, dict(order.arguments)))
            while not order.stop.is_set():
                if not worker.connection.poll(0.1):
                    continue
                kind, *rest = worker.connection.recv()
                if kind == "progress":
                    self._change(order.number, share=rest[0], words=rest[1])
                    continue
                state = JobState.DONE if kind == "done" else JobState.FAILED
                share = {"share": 1.0} if kind == "done" else {}
                self._change(order.number, state=state, said=rest[0], **share)
                return True
        except (EOFError, OSError):
            said = "The work ended unexpectedly; nothing half-written was kept; start it again."
            self._change(order.number, state=JobState.FAILED, said=said)
        return False


class _Worker:
    """A process that does one job after another, and ends with this one."""

    def __init__(self, database: Path) -> None:
        context = multiprocessing.get_context("spawn")
        self.connection, theirs = context.Pipe()
        self.process: BaseProcess = context.Process(target=work, args=(theirs, database), daemon=True)
        self.process.start()
        theirs.close()

    def end(self) -> None:
        """End the process at once."""
        self.connection.close()
        self.process.kill()
        self.process.join(5.0)


def work(connection: Connection, database: Path) -> None:
    """Do jobs until the other side has gone; runs in the worker process."""
    step_aside()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with contextlib.suppress(EOFError, OSError):
        while True:
            function, arguments = connection.recv()
            try:
                home, _, name = function.partition(":")
                function = getattr(importlib.import_module(home), name)
                connection.send(("done", function(database, _teller(connection), **arguments)))
            except WringoutError as error:
                connection.send(("failed", str(error)))
            except OSError as error:
                connection.send(("failed", f"The disk refused ({error.strerror or error}); free some room, try again."))
            except Exception as error:  # told as a sentence; the worker goes on
                connection.send(
                    ("failed", f"Something unexpected went wrong ({type(error).__name__}: {error}); nothing was kept.")
                )


def step_aside() -> None:
    """Let everybody else go first: what is computed can wait, a tap in the cockpit and a page cannot.

    Linux shares a processor between sessions before it looks at ``nice`` within one, so the worker takes a session of
    its own, with the same patience.
    """
    if hasattr(os, "setsid"):
        os.setsid()
    if hasattr(os, "nice"):
        os.nice(STEPS_ASIDE)
    with contextlib.suppress(OSError):
        AUTOGROUP.write_text(str(STEPS_ASIDE), encoding="ascii")


def _teller(connection: Connection) -> Progress:
    last = 0.0

    def progress(share: float, words: str) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last >= SAY_EVERY_S:
            last = now
            connection.send(("progress", float(min(max(share, 0.0), 1.0)), words))

    return progress
