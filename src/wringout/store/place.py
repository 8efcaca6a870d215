"""Where the data live: one database file, and beside it one folder of recordings named by the hash of their bytes.

By default both live in the user's own data folder (``XDG_DATA_HOME`` or what the operating system offers instead); a
path given on the command line moves them anywhere. Nothing is ever written elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_path

from wringout.errors import BadInputError, StoreError

DATABASE_NAME = "wringout.sqlite3"


@dataclass(frozen=True, slots=True)
class Place:
    """The two places a store consists of: the database file and the folder of recordings next to it."""

    database: Path
    recordings: Path


def default_database() -> Path:
    """Return the database file in the user's data folder."""
    return user_data_path("wringout", appauthor=False) / DATABASE_NAME


def place_at(database: Path | None = None) -> Place:
    """Return the place of a database and its recordings; nothing is read or written.

    Args:
        database: the database file; None means the one in the user's data folder.

    Raises:
        BadInputError: the path is a folder, or has no file name.
    """
    path = (default_database() if database is None else database).expanduser().absolute()
    try:
        unusable = path.is_dir() or not path.name or "\x00" in str(path)
    except OSError as error:
        raise BadInputError(f"'{path}' cannot be reached ({error.strerror or error})", "database") from error
    if unusable:
        raise BadInputError(
            f"'{path}' is a folder, not a database file", "database", f"name a file, such as '{path / DATABASE_NAME}'"
        )
    return Place(path, path.with_name(f"{path.stem}.recordings"))


def prepare(place: Place) -> None:
    """Make the folder the database goes into, readable by this user only when it is new.

    Raises:
        StoreError: the folder cannot be made.
    """
    try:
        place.database.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"the folder '{place.database.parent}' cannot be made ({error.strerror or error})",
            advice="choose another place for the database",
        ) from error
