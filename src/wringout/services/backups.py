"""Back-ups of everything, taken while the store is in use; and the way forward from a damaged database."""

from __future__ import annotations

from pathlib import Path
from typing import BinaryIO

from wringout.store import (
    BackUp,
    Clock,
    Rescued,
    Store,
    place_at,
    rescue_database,
    restore_backup,
    write_backup,
)

__all__ = ["BackUp", "Rescued", "back_up", "rescue", "restore"]


def back_up(store: Store, destination: Path, replace: bool = False) -> BackUp:
    """Write every study and recording to one file, which appears only when it is complete.

    Raises:
        BadInputError: the file exists and ``replace`` is False.
        StoreError: it cannot be written, or the database is damaged.
    """
    return write_backup(store, destination, replace)


def restore(database: Path | None, stream: BinaryIO, name: str, replace: bool = False) -> BackUp:
    """Take a back-up back; a database it takes the place of is kept beside it.

    Args:
        database: the database file; None means the one in the user's data folder.
        stream: the back-up.
        name: what to call it in an error.
        replace: allow taking the place of a database.

    Raises:
        BadInputError: it is no back-up or damaged, or there is a database and ``replace`` is False.
        StoreError: disk or database refuse; the database is then as it was.
    """
    return restore_backup(place_at(database), stream, name, replace)


def rescue(database: Path | None, clock: Clock) -> Rescued:
    """Make a new database from a damaged one: every recording, and every row that can still be read.

    Raises:
        BadInputError: there is no database, or it is sound.
        StoreError: it is another program's or a newer version's, or disk and folder refuse.
    """
    return rescue_database(place_at(database), clock)
