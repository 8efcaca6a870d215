"""The long work of scanning an archive, as a function that a worker process calls; see :mod:`wringout.web.jobs`."""

from __future__ import annotations

from pathlib import Path

from wringout.numerals import count
from wringout.services.fleet.archive_finds import scan_begun
from wringout.web.jobs import Progress


def scan_of(database: Path, progress: Progress, key: str) -> str:
    """Scan an archive that was begun; lots that were finished stay when it is stopped."""
    progress(0.0, "listing its files")
    done = scan_begun(database, key, progress)
    said = f"{count(done.files, 'file')} scanned now, {count(done.skipped, 'file')} known before"
    if done.unread:
        said += f", {done.unread:,} of them could not be read"
    return f"{said}: {count(done.go_arounds, 'go-around')} in all."
