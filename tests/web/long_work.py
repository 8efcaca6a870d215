"""Work for the table of jobs that goes on until a test lets it end; the worker process calls these by name."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

from wringout.errors import BadInputError

Progress = Callable[[float, str], None]
HERE = "tests.web.long_work"


def until_let_go(database: Path, progress: Progress, gate: str) -> str:
    """Say how far it is, wait until the file ``gate`` is there, and end."""
    progress(0.4, "nearly half way")
    while not Path(gate).exists():
        time.sleep(0.01)
    return "let go"


def stands_back(database: Path, progress: Progress) -> str:
    """Say how far this process stands back, and whether it has a session of its own."""
    alone = os.getsid(0) == os.getpid()
    return f"{os.getpriority(os.PRIO_PROCESS, 0)} in {'its own' if alone else 'a shared'} session"


def refused(database: Path, progress: Progress) -> str:
    """Fail with a sentence of ours."""
    raise BadInputError("nothing is there", "row 7", "put something there")


def dies(database: Path, progress: Progress) -> str:
    """End the process as the machine does when memory runs out."""
    os._exit(9)
