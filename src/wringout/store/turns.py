"""Turns at writing: threads that share a store write one after the other, in the order in which they asked.

SQLite lets one connection write at a time and has the others try again after pauses that grow, so that under load some
wait for seconds while newcomers go first. Threads of one program therefore queue here; other programs still meet at
SQLite's own lock.
"""

from __future__ import annotations

import contextlib
import threading
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any


class Turns:
    """A lock that is fair: who asked first goes first."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._waiting: deque[threading.Event] = deque()
        self._taken = False

    @contextlib.contextmanager
    def turn(self, longest_s: float) -> Iterator[bool]:
        """Give the turn for as long as the block lasts; yields False, without the turn, when it did not come in time.

        Args:
            longest_s: how long to wait [s].
        """
        mine = self._ask()
        had = mine is None or mine.wait(longest_s) or not self._gave_up(mine)
        try:
            yield had
        finally:
            if had:
                self._pass_on()

    def _ask(self) -> threading.Event | None:
        """Take the turn if it is free and return None, else what will be set when it has come."""
        with self._lock:
            if not self._taken:
                self._taken = True
                return None
            mine = threading.Event()
            self._waiting.append(mine)
            return mine

    def _gave_up(self, mine: threading.Event) -> bool:
        """Leave the queue, and say whether that was in time: the turn may have come at the last moment."""
        with self._lock:
            if mine.is_set():
                return False
            self._waiting.remove(mine)
            return True

    def _pass_on(self) -> None:
        with self._lock:
            if self._waiting:
                self._waiting.popleft().set()
            else:
                self._taken = False


@dataclass(slots=True, eq=False)
class Errand:
    """An edit that waits for a transaction it can share, and what became of it once it is done."""

    job: Callable[[Any], Any]
    done: bool = False
    result: Any = None
    error: BaseException | None = None

    def outcome(self) -> Any:
        """Return what the edit returned; raises what it raised."""
        if self.error is not None:
            raise self.error
        return self.result


@dataclass(slots=True, eq=False)
class Errands:
    """Edits of several threads that wait to be done together: a sync to the disk costs the same for one as for all."""

    _waiting: list[Errand] = field(default_factory=list)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def add(self, job: Callable[[Any], Any]) -> Errand:
        """Put an edit into the queue."""
        made = Errand(job)
        with self._lock:
            self._waiting.append(made)
        return made

    def take(self) -> list[Errand]:
        """Return all that wait, first come first, and leave none behind."""
        with self._lock:
            taken, self._waiting = self._waiting, []
        return taken

    def withdraw(self, errand: Errand) -> None:
        """Take an edit out of the queue that nobody did."""
        with self._lock, contextlib.suppress(ValueError):
            self._waiting.remove(errand)
