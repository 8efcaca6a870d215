"""The session of ``killing.py`` with every write and sync watched: run with ``faults.c`` loaded before libc.

Usage: ``python -m tests.store.watching FOLDER ROUNDS``. Prints one JSON document: how many syncs there were, and what
was acknowledged while something written for it was not synced. It stands in for pulling the plug, which keeps what was
synced and may lose the rest.
"""

from __future__ import annotations

import ctypes
import json
import sys
from datetime import UTC, datetime
from pathlib import Path

from tests.store import killing
from wringout import store as kept

NOT_NEEDED = ("-shm",)
"""SQLite builds this index of its log anew."""


def not_synced(disk: ctypes.CDLL) -> list[str]:
    """Return the files and folders that were written and not synced, and are still there."""
    found, number = [], 0
    while path := disk.watch_dirty(number).decode():
        number += 1
        if Path(path).exists() and not path.endswith(NOT_NEEDED):
            found.append(path)
    return found


def main() -> int:
    """Do each kind of step, and look after each."""
    session, rounds = killing.new_session(Path(sys.argv[1])), int(sys.argv[2])
    disk = ctypes.CDLL(None)
    disk.watch_dirty.restype = ctypes.c_char_p
    faults: list[str] = []
    disk.watch_start()
    with kept.open_store(kept.place_at(session.database), lambda: datetime.now(UTC)) as store:
        with store.writing() as work:
            study = kept.add_study(work, "Watched", "", {}, slug="killed")
        for number in range(rounds * killing.ROUND):
            step = killing.STEPS[number % killing.ROUND]
            step(store, study, number, session)
            faults += [f"{step.__name__}: {path}" for path in not_synced(disk)]
        kept.write_backup(store, Path(sys.argv[1]) / "all.zip")
        faults += [f"back-up: {path}" for path in not_synced(disk)]
    syncs = disk.watch_syncs()
    (Path(sys.argv[1]) / "planted").write_bytes(b"never synced")
    seen = any(path.endswith("planted") for path in not_synced(disk))
    sys.stdout.write(json.dumps({"syncs": syncs, "faults": faults, "planted seen": seen}))
    return 0


if __name__ == "__main__":
    sys.exit(main())
