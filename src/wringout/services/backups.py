"""Back-ups of everything, taken while the store is in use; and the way forward from a damaged database."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

from wringout.errors import NotFoundError, StoreError
from wringout.store import (
    BackUp,
    Clock,
    Held,
    Place,
    Rescued,
    Store,
    examine_backup,
    held_now,
    is_sound,
    name_backup,
    place_at,
    rescue_database,
    restore_backup,
    write_backup,
)

__all__ = [
    "BackUp",
    "Held",
    "KeptFile",
    "Rescued",
    "add_backup",
    "back_up",
    "backup_file",
    "backup_folder",
    "backups_beside",
    "examine",
    "free_name",
    "is_damaged",
    "place_of",
    "rescue",
    "restore",
    "stands",
]

ENDING = ".zip"
Told = Callable[[float, str], None]


def _untold(share: float, words: str) -> None:
    del share, words


@dataclass(frozen=True, slots=True)
class KeptFile:
    """A back-up in the folder beside the database: its name, place, size in bytes, and when it was written (UTC)."""

    name: str
    path: Path
    size_bytes: int
    at: str


def back_up(store: Store, destination: Path, replace: bool = False, told: Told = _untold) -> BackUp:
    """Write every study and recording to one file, which appears only when it is complete.

    Raises:
        BadInputError: the file exists and ``replace`` is False.
        StoreError: it cannot be written, or the database is damaged.
    """
    return write_backup(store, destination, replace, told)


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


def examine(database: Path | None, stream: BinaryIO, name: str, whole: bool = True, told: Told = _untold) -> Held:
    """Say what a back-up holds, its database or all of it held against its hash; nothing is taken back.

    Raises:
        BadInputError: it is no back-up, damaged or changed.
        StoreError: it was written by a newer version, or there is no room.
    """
    return examine_backup(stream, name, place_at(database).database.parent, whole, told)


def stands(store: Store) -> Held:
    """Return what is here now, as it would be said of a back-up; its size is not known."""
    with store.reading() as view:
        return held_now(view)


def rescue(database: Path | None, clock: Clock) -> Rescued:
    """Make a new database from a damaged one: every recording, and every row that can still be read.

    Raises:
        BadInputError: there is no database, or it is sound.
        StoreError: it is another program's or a newer version's, or disk and folder refuse.
    """
    return rescue_database(place_at(database), clock)


def is_damaged(database: Path | None) -> bool:
    """Say whether there is a database that cannot be read from end to end; False where none was made yet."""
    place = place_at(database)
    try:
        return place.database.exists() and place.database.stat().st_size > 0 and not is_sound(place)
    except (OSError, StoreError):
        return False


def place_of(database: Path | None) -> Place:
    """Return where a database and its recordings are."""
    return place_at(database)


def backup_folder(database: Path | None) -> Path:
    """Return the folder of back-ups beside a database; it is made when the first is written."""
    path = place_at(database).database
    return path.with_name(f"{path.stem}.backups")


def backups_beside(database: Path | None) -> tuple[KeptFile, ...]:
    """Return the back-ups in the folder beside a database, the newest first."""
    try:
        found = [_kept(path) for path in backup_folder(database).glob(f"*{ENDING}") if path.is_file()]
    except OSError:
        return ()
    return tuple(sorted(found, key=lambda one: (one.at, one.name), reverse=True))


def _kept(path: Path) -> KeptFile:
    stat = path.stat()
    at = datetime.fromtimestamp(stat.st_mtime, UTC).isoformat(timespec="seconds")
    return KeptFile(path.name, path, stat.st_size, at)


def backup_file(database: Path | None, name: str) -> KeptFile:
    """Return one back-up in the folder beside a database.

    Raises:
        NotFoundError: there is none of that name.
    """
    for one in backups_beside(database):
        if one.name == name:
            return one
    raise NotFoundError(f"there is no back-up '{name[:120]}' beside the database", advice="choose one from the list")


def free_name(database: Path | None, stem: str) -> Path:
    """Return a place for a new back-up in the folder beside a database, which is made where it is not there.

    Raises:
        StoreError: the folder cannot be made.
    """
    folder = backup_folder(database)
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"'{folder}' cannot be made ({error.strerror or error})", advice="make room") from error
    number, path = 1, folder / f"{stem}{ENDING}"
    while path.exists():
        number += 1
        path = folder / f"{stem}-{number}{ENDING}"
    return path


def add_backup(database: Path | None, stream: BinaryIO, name: str) -> KeptFile:
    """Put a back-up from elsewhere into the folder beside the database; nothing is taken back yet.

    Raises:
        BadInputError: it is no back-up.
        StoreError: it cannot be written.
    """
    name_backup(stream, name)
    stem = re.sub(r"[^A-Za-z0-9._-]+", "-", Path(name.replace("\\", "/")).stem)[:80].strip("-.") or "back-up"
    path = free_name(database, stem)
    unfinished = path.with_suffix(".unfinished")
    stream.seek(0)
    try:
        with unfinished.open("wb") as file:
            shutil.copyfileobj(stream, file, 1 << 20)
        unfinished.replace(path)
    except OSError as error:
        unfinished.unlink(missing_ok=True)
        raise StoreError(f"'{path}' cannot be written ({error.strerror or error})", advice="make room") from error
    return _kept(path)
