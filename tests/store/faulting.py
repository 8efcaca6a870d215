"""The session of ``killing.py`` on a disk that fails: run by ``test_faults.py`` with ``faults.c`` loaded before libc.

Usage: ``python -m tests.store.faulting FOLDER TRIALS SEED``. Prints one JSON document.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import json
import random
import sys
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

from tests.store import killing
from wringout import store as kept
from wringout.errors import WringoutError

ERRORS = (errno.ENOSPC, errno.EIO, errno.EINTR)
DISK_WORDS = ("full", "room", "disk", "could not be", "cannot be", "written", "No space", "I/O", "Interrupted")


def main() -> int:
    """Let the disk fail at random in every step, try again, and compare in the end."""
    session, trials, dice = killing.new_session(Path(sys.argv[1])), int(sys.argv[2]), random.Random(int(sys.argv[3]))  # noqa: S311 - not for secrets
    disk = ctypes.CDLL(None)
    met: Counter[str] = Counter()
    told: Counter[str] = Counter()
    faults: list[str] = []
    number = 0
    with kept.open_store(kept.place_at(session.database), lambda: datetime.now(UTC)) as store:
        with store.writing() as work:
            study = kept.add_study(work, "Killed", "", {}, slug="killed")
        for _ in range(trials):
            error, times = dice.choice(ERRORS), dice.choice((1, 1, 3, 10**6))
            step = killing.STEPS[number % killing.ROUND]
            disk.fault_arm(
                ctypes.c_long(dice.randrange(24)), ctypes.c_long(times if error != errno.EINTR else 1), error
            )
            said = ""
            try:
                step(store, study, number, session)
            except WringoutError as sentence:
                said = str(sentence)
            finally:
                hits = disk.fault_met()
                disk.fault_arm(ctypes.c_long(-1), ctypes.c_long(0), 0)
            if hits:
                met[f"{errno.errorcode[error]} in {step.__name__}"] += 1
            if said:
                told[errno.errorcode[error]] += 1
                if not hits or not any(word in said for word in DISK_WORDS):
                    faults.append(f"{step.__name__} said: {said}")
                with contextlib.suppress(WringoutError):
                    kept.Store.close(store)
                faults += killing.integrity(session)
                step(store, study, number, session)  # made room, tried again
            number += 1
    faults += killing.compare(session, number)
    sys.stdout.write(json.dumps({"done": number, "met": met, "told": told, "faults": faults}))
    return 0


if __name__ == "__main__":
    sys.exit(main())
