"""Databases and bundles written by the code of each schema, kept as bytes, open in today's code."""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import io
import json
import os
import shutil
import signal
import sqlite3
import time
import zipfile
from pathlib import Path
from typing import Any

import pytest

from tests.store.packing import exported, packed, taken_in
from tests.store.samples import add_documents, everything, open_at
from wringout import store as kept
from wringout.errors import StoreError
from wringout.store import schema

STORED = Path(__file__).with_name("schema-0001.zip")
TODAY = Path(__file__).with_name(f"schema-{schema.SCHEMA_VERSION}.zip")


def plain(value: Any) -> Any:
    """Return a value as the JSON it was stored as."""
    if isinstance(value, bytes):
        return value.hex()
    if dataclasses.is_dataclass(value):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    return str(value) if isinstance(value, (kept.RunState, kept.ResultKind)) else value


@pytest.fixture
def old(tmp_path: Path) -> Path:
    with zipfile.ZipFile(STORED) as archive:
        archive.extractall(tmp_path)
    with contextlib.closing(sqlite3.connect(tmp_path / "schema-0001.db")) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]
    return tmp_path


def test_a_database_of_the_first_schema_opens_with_everything_in_it(old: Path) -> None:
    before = (old / "schema-0001.db").read_bytes()
    with open_at(old / "schema-0001.db") as store:
        with store.reading() as view:
            (study,) = kept.list_studies(view)
            assert len(kept.list_briefs(view, study.id)) == 1
        *parts, documents, taps, recordings = everything(store, study)
        assert plain([*parts, recordings]) == json.loads((old / "held.json").read_text())
        assert (documents, taps) == ([], [])
        add_documents(store, study)
    with contextlib.closing(sqlite3.connect(old / "schema-0001.db")) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchall() == [(schema.SCHEMA_VERSION,)]
    copy = old / "schema-0001.schema-0001-1.db"  # the back-up made before the migration
    with contextlib.closing(sqlite3.connect(copy)) as one, contextlib.closing(sqlite3.connect(":memory:")) as other:
        other.deserialize(before)
        assert list(one.iterdump()) == list(other.iterdump())


def opened_and_killed(database: Path, after_s: float) -> None:
    """Open a database in a process of its own and kill that after a while."""
    child = os.fork()
    if child == 0:
        try:
            open_at(database)
            time.sleep(10.0)
        finally:
            os._exit(1)
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


def test_a_migration_that_is_killed_loses_nothing(old: Path) -> None:
    held, found = json.loads((old / "held.json").read_text()), set()
    for number in range(25):
        path = old / f"copy-{number}.db"
        shutil.copyfile(old / "schema-0001.db", path)
        shutil.copytree(old / "schema-0001.recordings", old / f"copy-{number}.recordings")
        opened_and_killed(path, number * 0.006)
        with contextlib.closing(sqlite3.connect(path)) as connection:
            found |= {row[0] for row in connection.execute("SELECT version_num FROM alembic_version")}
        with open_at(path) as store, store.reading() as view:
            *parts, _, _, recordings = everything(store, kept.list_studies(view)[0])
            assert plain([*parts, recordings]) == held
            assert view.connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
    assert "0001" in found  # some were killed before the migration was kept


def test_a_bundle_of_the_first_version_is_taken_in_and_known(old: Path) -> None:
    data = (old / "bundle-1.zip").read_bytes()
    with open_at(old / "new.db") as store:
        taken = taken_in(store, data)
        *parts, documents, taps, recordings = everything(store, taken.study)
        assert plain([*parts, recordings]) == json.loads((old / "held.json").read_text())
        assert (documents, taps) == ([], [])
        assert exported(store, taken.study) == data  # a study without documents keeps the hash of its bundle
    with open_at(old / "schema-0001.db") as store:
        assert taken_in(store, data).already_there


def test_a_back_up_of_the_first_schema_is_brought_up_to_date(old: Path) -> None:
    """The database inside is the stored one; the zip around it is made here."""
    database = (old / "schema-0001.db").read_bytes()
    files = {"wringout.sqlite3": database} | {
        f"recordings/{path.name}": path.read_bytes() for path in (old / "schema-0001.recordings").glob("*/*")
    }
    hashes = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    listed = {"format": "wringout back-up", "sha256": hashes}
    data = packed({**files, "backup.json": json.dumps(listed).encode()})
    place = kept.place_at(old / "other" / "b.db")
    assert kept.restore_backup(place, io.BytesIO(data), "all.zip").recordings == 2
    with open_at(place.database) as store, store.reading() as view:
        assert view.connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar() == "0002"


def test_a_newer_database_is_neither_opened_nor_replaced(old: Path) -> None:
    with open_at(old / "schema-0001.db") as store:
        kept.write_backup(store, old / "all.zip")
    with contextlib.closing(sqlite3.connect(old / "schema-0001.db")) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '0777'")
        connection.commit()
    before = (old / "schema-0001.db").read_bytes()
    place = kept.place_at(old / "schema-0001.db")
    with pytest.raises(StoreError, match=r"newer version of Wringout .* update Wringout"):
        open_at(old / "schema-0001.db")
    with (old / "all.zip").open("rb") as stream, pytest.raises(StoreError, match="newer version of Wringout"):
        kept.restore_backup(place, stream, "all.zip", replace=True)
    assert (old / "schema-0001.db").read_bytes() == before


def drawn(database: Path) -> set[tuple[str, str, str]]:
    """Return kind, name and SQL of everything a database is built of."""
    with contextlib.closing(sqlite3.connect(database)) as connection:
        return set(connection.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL"))


def test_todays_schema_is_the_last_stored_one_and_its_database_needs_no_migration(tmp_path: Path) -> None:
    """Whoever changes the schema adds a migration, and stores a database that its code has written."""
    assert TODAY.exists(), f"the schema {schema.SCHEMA_VERSION} has no stored database"
    with zipfile.ZipFile(TODAY) as archive:
        archive.extractall(tmp_path)
    database = tmp_path / f"schema-{schema.SCHEMA_VERSION}.db"
    with open_at(tmp_path / "new.db"):
        pass
    assert drawn(database) == drawn(tmp_path / "new.db")
    held = json.loads((tmp_path / "held.json").read_text())
    with open_at(database) as store:
        with store.reading() as view:
            (study,) = kept.list_studies(view)
            entries = [
                plain(one) for key in ("go-around", "gone") for one in kept.entry_revisions(view, "procedure", key)
            ]
        assert [*plain(list(everything(store, study))), entries] == held
        assert exported(store, study) == (tmp_path / "bundle-2.zip").read_bytes()
    assert not list(tmp_path.glob("*.schema-*.db"))  # nothing was migrated
