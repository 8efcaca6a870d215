"""The database file: opening it with the right settings, bringing its schema up to date, copying it, explaining faults.

Settings of every connection: write-ahead log, ``synchronous=FULL`` (a commit that returned survives a power cut),
foreign keys on, and a wait of ten seconds for another program that is writing. A database written by a newer version is
refused untouched, an older one is copied before it is migrated.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from wringout.advice import Way
from wringout.errors import NotFoundError, StoreError
from wringout.store.place import Place, prepare
from wringout.store.schema import APPLICATION_ID, SCHEMA_VERSION
from wringout.store.vault import sync_file, sync_folder

BUSY_TIMEOUT_MS = 10_000
WRITES = {"wringout_writes": True}
"""Execution options of a connection that is going to write: it takes the write lock at once."""


@dataclass(frozen=True, slots=True)
class Migrations:
    """Where the migrations are and which is the newest, as numbers written "0001", "0002" ..."""

    newest: str
    scripts: str


OURS = Migrations(SCHEMA_VERSION, "wringout.store:migrations")


def busy(place: Place) -> StoreError:
    """Return the error of somebody who waited too long for others that write."""
    return StoreError(
        f"the database '{place.database}' is being written by another program", advice="wait a moment and try again"
    )


def explain(error: sqlite3.Error, place: Place) -> StoreError:
    """Turn a fault reported by SQLite into one sentence that says what to do."""
    text = str(error)
    name = f"the database '{place.database}'"
    if "locked" in text or "busy" in text:
        return busy(place)
    if "malformed" in text or "not a database" in text or "corrupt" in text:
        return StoreError(
            f"{name} is damaged ({text})",
            advice=f"restore a back-up, or {Way.RESCUE}; the recordings in"
            f" '{place.recordings}' are separate files and are not touched",
        )
    if "readonly" in text or "unable to open" in text:
        return StoreError(f"{name} cannot be written here ({text})", advice="check the folder's permissions")
    if "FOREIGN KEY" in text:
        return StoreError("what this entry refers to is not stored", advice="look it up again, it may be another store")
    if "full" in text:
        return StoreError(f"{name} could not be written, the disk is full", advice="make room and try again")
    return StoreError(f"{name} could not be used ({text})")


@contextlib.contextmanager
def explained(place: Place) -> Iterator[None]:
    """Let faults of the database out as a StoreError in one sentence."""
    try:
        yield
    except DBAPIError as error:
        if isinstance(error.orig, sqlite3.Error):
            raise explain(error.orig, place) from error
        raise
    except SQLAlchemyError as error:
        raise StoreError(f"the database '{place.database}' could not be used ({error})") from error
    except sqlite3.Error as error:
        raise explain(error, place) from error


def _set_up(connection: sqlite3.Connection) -> None:
    """Set what must hold on every connection; changing to the write-ahead log may have to wait for others."""
    connection.isolation_level = None
    connection.execute(f"PRAGMA busy_timeout={BUSY_TIMEOUT_MS}")
    deadline = time.monotonic() + BUSY_TIMEOUT_MS / 1000
    while connection.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
        try:
            connection.execute("PRAGMA journal_mode=WAL").fetchone()
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > deadline:
                raise
            time.sleep(0.02)
    for pragma in ("synchronous=FULL", "foreign_keys=ON", "fullfsync=ON", "checkpoint_fullfsync=ON"):
        connection.execute(f"PRAGMA {pragma}")


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("wringout_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _engine(database: Path) -> Engine:
    """Return an engine on the file whose transactions are the ones SQLAlchemy opens and no others."""
    engine = create_engine(URL.create("sqlite+pysqlite", database=str(database)))
    event.listen(engine, "connect", lambda connection, _record: _set_up(connection))
    event.listen(engine, "begin", _begin)
    return engine


def _version_in(connection: sqlite3.Connection) -> str | None:
    """Return the schema version in a database; None for an empty one; "" for one that is not ours."""
    tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if not tables:
        return None
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID or "alembic_version" not in tables:
        return ""
    versions = [row[0] for row in connection.execute("SELECT version_num FROM alembic_version")]
    return str(versions[0]) if len(versions) == 1 else ""


def schema_version(place: Place, newest: str = SCHEMA_VERSION) -> str | None:
    """Return the schema version of the database without changing a byte of it; None when it is new or empty.

    Raises:
        StoreError: it is damaged, belongs to another program, or was written by a newer version.
    """
    try:
        if not place.database.exists() or place.database.stat().st_size == 0:
            return None
    except OSError as error:
        raise StoreError(f"the database '{place.database}' cannot be reached ({error.strerror or error})") from error
    with explained(place), contextlib.closing(sqlite3.connect(f"{place.database.as_uri()}?mode=ro", uri=True)) as found:
        found.execute(f"PRAGMA busy_timeout={BUSY_TIMEOUT_MS}")
        version = _version_in(found)
    if version == "":
        raise StoreError(
            f"'{place.database}' is a database of another program", advice="choose another file; it was not touched"
        )
    if version is not None and version > newest:
        raise StoreError(
            f"the database '{place.database}' was written by a newer version of Wringout (schema {version}, this"
            f" version knows up to {newest})",
            advice="update Wringout; the database was not touched",
        )
    return version


def fsync_path(path: Path) -> None:
    """Push the bytes of a closed file to the disk."""
    descriptor = os.open(path, os.O_RDWR)
    try:
        sync_file(descriptor)
    finally:
        os.close(descriptor)


def copy_database(database: Path, target: Path) -> None:
    """Copy a database, also one in use, to a new file that appears only when it is complete and synced.

    Raises:
        sqlite3.Error: the database cannot be read or the copy not written.
        OSError: the copy cannot be synced or renamed.
    """
    partial = target.with_name(f"{target.name}.part")
    partial.unlink(missing_ok=True)
    with (
        contextlib.closing(sqlite3.connect(f"{database.as_uri()}?mode=ro", uri=True)) as source,
        contextlib.closing(sqlite3.connect(partial)) as copy,
    ):
        source.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")
    fsync_path(partial)
    partial.replace(target)
    sync_folder(target.parent)


def _backup_path(database: Path, version: str) -> Path:
    """Return a free name for the copy of a database at an older schema version."""
    number = 1
    while (path := database.with_name(f"{database.stem}.schema-{version}-{number}{database.suffix}")).exists():
        number += 1
    return path


def _upgrade(connection: Connection, scripts: str) -> None:
    config = Config()
    config.set_main_option("script_location", scripts)
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


def _migrate(place: Place, engine: Engine, version: str | None, scripts: str) -> None:
    """Bring the schema up to date in one transaction; another program that migrates meanwhile is waited for."""
    if version is not None:
        try:
            copy_database(place.database, _backup_path(place.database, version))
        except OSError as error:
            raise StoreError(
                f"the back-up copy before the migration could not be written ({error.strerror or error})",
                advice="make room beside the database; it was not touched",
            ) from error
    with engine.connect().execution_options(**WRITES) as connection:
        connection.connection.cursor().execute("PRAGMA foreign_keys=OFF")  # has no effect inside a transaction
        with connection.begin():
            _upgrade(connection, scripts)
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
            if broken:
                raise StoreError(f"migrating the database would break references ({len(broken)}); it was not changed")
            connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
    engine.dispose()
    sync_folder(place.database.parent)


def open_engine(place: Place, create: bool = True, migrations: Migrations = OURS) -> Engine:
    """Open the database with its settings and the newest schema; make it when it is not there.

    Args:
        place: where it is.
        create: False refuses to make a new one.
        migrations: where the schema comes from.

    Raises:
        NotFoundError: there is none and ``create`` is False.
        StoreError: it is damaged, newer than this version, not ours, or cannot be written.
    """
    version = schema_version(place, migrations.newest)
    if version is None and not create:
        raise NotFoundError(f"there is no database at '{place.database}'", advice="make a study first, or name another")
    prepare(place)
    engine = _engine(place.database)
    with explained(place):
        if version != migrations.newest:
            _migrate(place, engine, version, migrations.scripts)
    return engine
