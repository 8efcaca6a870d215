"""A new database out of a damaged one: every recording, and every row that can still be read.

The damaged files are renamed, not changed. Tables are read row by row from both ends, so that a damaged page in the
middle costs the rows on it and no others; rows that refer to lost ones are left out. Recordings that then belong to no
study go into a study of their own: their bytes never were in the database.
"""

from __future__ import annotations

import contextlib
import json
import shutil
import sqlite3
import tempfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import insert, select
from sqlalchemy.exc import SQLAlchemyError

from wringout.errors import BadInputError, StoreError
from wringout.store import flights, schema, vault
from wringout.store.backup import is_sound, set_aside
from wringout.store.documents import Clock
from wringout.store.place import Place
from wringout.store.records import Recording, StudyRecording
from wringout.store.studies import add_study
from wringout.store.study_store import Store, Work, open_store

TITLE = "Rescued recordings"


@dataclass(frozen=True, slots=True)
class Rescued:
    """What was saved.

    Attributes:
        aside: the damaged database under its new name.
        rows: how many rows of each table were saved.
        recordings: sound recordings in the vault, all of which are in the new database.
        loose: recordings that belonged to no study any more and went into ``study_slug``.
        study_slug: the study that holds them; "" when there are none.
        damaged: hashes of recordings whose bytes are damaged; their files stay where they are.
    """

    aside: Path
    rows: dict[str, int]
    recordings: int
    loose: int
    study_slug: str
    damaged: tuple[str, ...]


def _scan(connection: sqlite3.Connection, table: str, order: str) -> Iterator[dict[str, Any]]:
    """Yield the rows of a table in one order until its end or the first damage."""
    with contextlib.suppress(sqlite3.Error):
        rows = connection.execute(f'SELECT rowid AS "_row", * FROM "{table}" ORDER BY rowid {order}')  # noqa: S608
        names = [column[0] for column in rows.description]
        while (row := rows.fetchone()) is not None:
            yield dict(zip(names, row, strict=True))


def _readable(damaged: Path, table: str) -> list[dict[str, Any]]:
    """Return every row of a table that can be read from either end, in order."""
    found: dict[int, dict[str, Any]] = {}
    for order in ("ASC", "DESC"):
        with contextlib.suppress(sqlite3.Error), contextlib.closing(sqlite3.connect(damaged)) as connection:
            connection.execute("PRAGMA writable_schema=ON")
            connection.text_factory = lambda data: data.decode("utf-8", "replace")
            for row in _scan(connection, table, order):
                found.setdefault(row.pop("_row"), row)
    return [found[number] for number in sorted(found)]


_JSON = {"difference_that_matters", "mapping", "setup", "settings", "before", "after", "body"}


def _is_whole(table: str, values: dict[str, Any]) -> bool:
    """Say whether the documents in a row can be read; one damaged inside would stop its whole study from being read."""
    try:
        for name in _JSON & set(values):
            text = values[name]
            if text is not None:
                json.loads(zlib.decompress(text) if table == "result" and name == "body" else text)
    except (ValueError, TypeError, zlib.error):
        return False
    return True


def _copy_rows(store: Store, damaged: Path) -> dict[str, int]:
    """Copy what can be read, a row at a time, those that others refer to first."""
    saved: dict[str, int] = {}
    for table in schema.metadata.sorted_tables:
        saved[table.name] = 0
        known = {column.name for column in table.columns}
        with store.writing() as work:
            for row in _readable(damaged, table.name):
                values = {name: value for name, value in row.items() if name in known}
                if not _is_whole(table.name, values):
                    continue
                with contextlib.suppress(SQLAlchemyError), work.connection.begin_nested():
                    work.connection.execute(insert(table).values(values))
                    saved[table.name] += 1
    return saved


def _copied_rows(store: Store, aside: Path) -> dict[str, int]:
    """Copy what can be read from a copy of the damaged files: SQLite writes even to what it only reads."""
    with tempfile.TemporaryDirectory(dir=aside.parent, prefix=".rescue-") as folder:
        for ending in ("", "-wal"):
            path = aside.with_name(aside.name + ending)
            if path.exists():
                shutil.copyfile(path, Path(folder) / f"damaged{ending}")
        return _copy_rows(store, Path(folder) / "damaged")


def _enter_loose(work: Work, sound: tuple[str, ...]) -> tuple[int, str]:
    """Enter every recording that no study has; return how many, and the short name of the study they went into."""
    known = set(work.connection.scalars(select(schema.study_recording.c.recording_sha256)))
    loose = [sha256 for sha256 in sound if sha256 not in known]
    if not loose:
        return 0, ""
    study = add_study(work, TITLE, "Recordings that belonged to no study any more after the database was damaged.", {})
    for sha256 in loose:
        size = vault.path_of(work.place.recordings, sha256).stat().st_size
        entered = flights.enter_recording(work, Recording(sha256, f"recording-{sha256[:12]}", size, work.now, ""))
        item = StudyRecording(study.id, entered, entered.original_name, "", None, work.now)
        flights.insert_in_study(work, item)
    return len(loose), study.slug


def _sorted_out(folder: Path) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the hashes of sound and of damaged recordings."""
    sound, damaged = [], []
    for sha256 in vault.hashes(folder):
        try:
            vault.check(folder, sha256)
        except StoreError:
            damaged.append(sha256)
        else:
            sound.append(sha256)
    return tuple(sound), tuple(damaged)


def rescue_database(place: Place, clock: Clock) -> Rescued:
    """Make a new database from a damaged one.

    Raises:
        BadInputError: there is no database, or it is sound.
        StoreError: it is another program's or a newer version's, or disk and folder refuse.
    """
    if place.database.exists() and is_sound(place):
        raise BadInputError(f"the database '{place.database}' is sound", "rescue", "there is nothing to rescue")
    if not place.database.exists() and not vault.hashes(place.recordings):
        raise BadInputError(f"there is nothing at '{place.database}'", "rescue", "name the database that is damaged")
    aside = set_aside(place)
    sound, damaged = _sorted_out(place.recordings)
    with open_store(place, clock) as store:
        rows = _copied_rows(store, aside) if aside.exists() else {}
        with store.writing() as work:
            loose, slug = _enter_loose(work, sound)
    return Rescued(aside, rows, len(sound), loose, slug, damaged)
