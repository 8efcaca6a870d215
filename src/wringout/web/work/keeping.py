"""The long work on back-ups, as functions that a worker process calls; see :mod:`wringout.web.jobs`."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from wringout.errors import StoreError
from wringout.numerals import count
from wringout.services.backups import Held, back_up, backup_file, examine, free_name, is_damaged, restore
from wringout.services.opening import open_studies
from wringout.web.jobs import Progress


def clock() -> datetime:
    """Return the present moment."""
    return datetime.now(UTC)


def write_backup_of(database: Path, progress: Progress, stem: str) -> str:
    """Write everything to a new file in the folder beside the database."""
    with open_studies(database, clock, create=False) as store:
        path = free_name(database, stem)
        done = back_up(store, path, told=progress)
    said = f"Every study, with {count(done.recordings, 'recording')}, is in {path.name}."
    return " ".join([said, *done.notices])


def check_backup_of(database: Path, progress: Progress, name: str) -> str:
    """Hold every byte of a back-up against its hash."""
    with backup_file(database, name).path.open("rb") as stream:
        return f"Every byte of {name} fits its hash: {held_words(examine(database, stream, name, told=progress))}."


def held_words(held: Held) -> str:
    """Return what is held in a few words."""
    return f"{count(len(held.studies), 'study', 'studies')} and {count(held.recordings, 'recording')}"


def check_database_of(database: Path, progress: Progress) -> str:
    """Read the database from end to end."""
    progress(0.1, "reading it from end to end")
    if is_damaged(database):
        raise StoreError(
            "the database is damaged", advice="stop Wringout and open it again: it then shows the ways forward"
        )
    return "The database is sound: it was read from end to end."


def restore_backup_of(database: Path, progress: Progress, name: str) -> str:
    """Take a back-up back in the place of the database, a copy of which is kept."""
    progress(0.1, "holding every byte against its hash")
    with backup_file(database, name).path.open("rb") as stream:
        done = restore(database, stream, name, replace=True)
    return " ".join([f"All studies of {name}, with {count(done.recordings, 'recording')}, are here.", *done.notices])
