from __future__ import annotations

import contextlib
import shutil
import sqlite3
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text

from tests.store.samples import add_full, add_invented, everything, names_in, open_at, ticking
from wringout import store as kept
from wringout.errors import StoreError
from wringout.store import database, schema
from wringout.store.database import Migrations, copy_database, open_engine


def raw(path: Path) -> contextlib.closing[sqlite3.Connection]:
    return contextlib.closing(sqlite3.connect(path))


def pragma(store: kept.Store, name: str) -> object:
    with store.reading() as view:
        return view.connection.execute(text(f"PRAGMA {name}")).scalar_one()


@pytest.mark.parametrize(
    # SQLite documentation, "Pragma statements": synchronous 2 is FULL.
    ("name", "value"),
    [("journal_mode", "wal"), ("synchronous", 2), ("foreign_keys", 1), ("busy_timeout", 10_000)],
)
def test_every_connection_is_set_up(store: kept.Store, name: str, value: object) -> None:
    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(lambda _: pragma(store, name), range(8))) == [value] * 8


def test_foreign_keys_are_enforced(store: kept.Store) -> None:
    with pytest.raises(StoreError, match="What this entry refers to is not stored"), store.writing() as work:
        kept.put_airplane(work, 99, "x = 1\n")


def test_an_empty_database_gets_the_schema_the_tables_describe(store: kept.Store) -> None:
    with store.reading() as view:
        assert compare_metadata(MigrationContext.configure(view.connection), schema.metadata) == []
        assert (
            view.connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one()
            == schema.SCHEMA_VERSION
        )
        made = {row[0]: row[1] for row in view.connection.execute(text("SELECT name, sql FROM sqlite_master"))}
    with raw(store.place.database) as connection:
        assert connection.execute("PRAGMA application_id").fetchone()[0] == schema.APPLICATION_ID
    assert "CHECK (state IN ('in use', 'set aside'))" in made["run"]


def test_the_newest_schema_is_the_last_migration() -> None:
    folder = Path(database.__file__).parent / "migrations"
    assert ScriptDirectory(str(folder)).get_heads() == [schema.SCHEMA_VERSION]


def test_an_opened_database_is_opened_again_unchanged(tmp_path: Path) -> None:
    with open_at(tmp_path / "a.db") as store:
        study = add_full(store)
        before = everything(store, study)
    with open_at(tmp_path / "a.db") as store:
        assert everything(store, study) == before
    assert [name for name in names_in(tmp_path) if "/" not in name] == ["a.db"]  # no back-up without a migration


def test_a_newer_database_is_refused_and_not_touched(tmp_path: Path) -> None:
    with open_at(tmp_path / "a.db") as store:
        add_invented(store)
    with raw(tmp_path / "a.db") as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.commit()
    before = (tmp_path / "a.db").read_bytes()
    with pytest.raises(StoreError) as caught:
        open_at(tmp_path / "a.db")
    assert str(caught.value) == (
        f"The database '{tmp_path / 'a.db'}' was written by a newer version of Wringout (schema 9999, this version"
        " knows up to 0002); update Wringout; the database was not touched."
    )
    assert (tmp_path / "a.db").read_bytes() == before


def test_a_database_of_another_program_is_refused_and_not_touched(tmp_path: Path) -> None:
    with raw(tmp_path / "a.db") as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")
        connection.commit()
    before = (tmp_path / "a.db").read_bytes()
    with pytest.raises(StoreError, match="is a database of another program; choose another file; it was not touched"):
        open_at(tmp_path / "a.db")
    assert (tmp_path / "a.db").read_bytes() == before


NEXT = """
from alembic import op
revision, down_revision = "0003", "0002"
def upgrade():
    op.execute("ALTER TABLE study ADD COLUMN place TEXT NOT NULL DEFAULT 'unknown'")
    {more}
"""


def next_schema(folder: Path, more: str = "") -> Migrations:
    """Return the shipped migrations with one more after them."""
    scripts = folder / "scripts"
    shutil.copytree(Path(database.__file__).parent / "migrations", scripts)
    (scripts / "versions" / "v0003_next.py").write_text(NEXT.format(more=more))
    return Migrations("0003", str(scripts))


def test_an_older_database_is_copied_and_then_migrated(tmp_path: Path) -> None:
    with open_at(tmp_path / "a.db") as store:
        study = add_full(store)
        before = everything(store, study)
    engine = open_engine(kept.place_at(tmp_path / "a.db"), migrations=next_schema(tmp_path))
    engine.dispose()
    with raw(tmp_path / "a.db") as connection:
        assert connection.execute("SELECT place FROM study").fetchall() == [("unknown",)]
        assert connection.execute("SELECT version_num FROM alembic_version").fetchall() == [("0003",)]
    (tmp_path / "a.recordings").rename(tmp_path / "a.schema-0002-1.recordings")
    with open_at(tmp_path / "a.schema-0002-1.db") as copy:  # the copy opens in the older version, with everything in it
        assert everything(copy, study) == before


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ("op.execute('nonsense')", "could not be used .*syntax error"),
        (
            "op.execute(\"INSERT INTO airplane VALUES (99, 77, 1, '', '')\")",
            "would break references",
        ),
    ],
    ids=["a fault", "a broken reference"],
)
def test_a_migration_that_fails_changes_nothing(tmp_path: Path, more: str, says: str) -> None:
    with open_at(tmp_path / "a.db") as store:
        study = add_full(store)
        before = everything(store, study)
    with pytest.raises(StoreError, match=says):
        open_engine(kept.place_at(tmp_path / "a.db"), migrations=next_schema(tmp_path, more))
    with open_at(tmp_path / "a.db") as store:
        assert everything(store, study) == before


def test_a_migration_waits_for_room_for_its_copy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open_at(tmp_path / "a.db") as store:
        study = add_full(store)
        before = everything(store, study)

    def full(_: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(database, "sync_folder", full)
    with pytest.raises(StoreError, match=r"back-up copy before the migration could not be written \(No space left"):
        open_engine(kept.place_at(tmp_path / "a.db"), migrations=next_schema(tmp_path))
    monkeypatch.undo()
    with open_at(tmp_path / "a.db") as store:
        assert everything(store, study) == before


def test_a_database_in_use_can_be_copied(store: kept.Store, tmp_path: Path) -> None:
    study = add_full(store)
    with store.writing() as work:
        kept.put_airplane(work, study.id, "changed = true\n")
        (tmp_path / "copy").mkdir()
        copy_database(store.place.database, tmp_path / "copy" / "study.sqlite3")
    shutil.copytree(store.place.recordings, tmp_path / "copy" / "study.recordings")
    with open_at(tmp_path / "copy" / "study.sqlite3") as copy, copy.reading() as view:
        assert len(kept.list_airplanes(view, study.id)) == 2  # what was not yet kept is not in the copy
        assert view.connection.execute(text("PRAGMA integrity_check")).scalar_one() == "ok"


def damage(path: Path, begin: int) -> None:
    data = bytearray(path.read_bytes())
    data[begin:] = b"\xa5" * (len(data) - begin)
    path.write_bytes(data)


@pytest.mark.parametrize("begin", [0, 100, 4096])
def test_a_damaged_database_is_told_with_a_way_forward(tmp_path: Path, begin: int) -> None:
    with open_at(tmp_path / "a.db") as store:
        add_full(store)
    recordings = names_in(tmp_path / "a.recordings")
    damage(tmp_path / "a.db", begin)
    with pytest.raises(StoreError) as caught, open_at(tmp_path / "a.db") as store, store.reading() as view:
        kept.list_studies(view)
    sentence = str(caught.value)
    assert f"The database '{tmp_path / 'a.db'}' is damaged" in sentence
    assert "restore a back-up, or save what can still be read of it;" in sentence
    assert f"the recordings in '{tmp_path / 'a.recordings'}' are separate files and are not touched" in sentence
    assert "\n" not in sentence
    assert names_in(tmp_path / "a.recordings") == recordings


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        ("attempt to write a readonly database", "cannot be written here .* check the folder's permissions"),
        ("unable to open database file", "cannot be written here"),
        ("disk I/O error", "could not be used .disk I/O error"),
    ],
)
def test_other_faults_are_one_sentence(tmp_path: Path, fault: str, says: str) -> None:
    with pytest.raises(StoreError, match=says), database.explained(kept.place_at(tmp_path / "a.db")):
        raise sqlite3.OperationalError(fault)


def test_a_database_without_its_version_is_not_ours(tmp_path: Path) -> None:
    with open_at(tmp_path / "a.db") as store:
        add_invented(store)
    with raw(tmp_path / "a.db") as connection:
        connection.execute("DELETE FROM alembic_version")
        connection.commit()
    with pytest.raises(StoreError, match="is a database of another program"):
        open_at(tmp_path / "a.db")


def test_another_program_that_writes_is_waited_for_and_then_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "BUSY_TIMEOUT_MS", 50)
    with open_at(tmp_path / "a.db") as store, raw(tmp_path / "a.db") as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match=r"is being written by another program; wait a moment and try again"):
            add_invented(store)
        other.rollback()
        assert add_invented(store).slug == "gear-or-flaps-first"


def run_out_of_room(store: kept.Store, study: kept.Study) -> None:
    with store.writing() as work:
        pages = work.connection.execute(text("PRAGMA page_count")).scalar_one()
        work.connection.execute(text(f"PRAGMA max_page_count = {pages}"))  # SQLite's own way to run out of room
        kept.put_airplane(work, study.id, "x = 1\n")
        kept.put_airplane(work, study.id, "y = '" + "x" * 900_000 + "'\n")


def test_a_full_disk_is_told_and_the_edit_is_not_half_kept(store: kept.Store) -> None:
    study = add_invented(store)
    with pytest.raises(StoreError, match="could not be written, the disk is full; make room"):
        run_out_of_room(store, study)
    store.close()
    with store.reading() as view:
        assert kept.list_airplanes(view, study.id) == ()
        assert len(kept.list_history(view, study.id)) == 1


def interrupt(store: kept.Store) -> None:
    with store.writing() as work:
        kept.add_study(work, "One", "", {})
        raise InterruptedError


def test_an_edit_that_raises_is_forgotten_whole(store: kept.Store) -> None:
    with pytest.raises(InterruptedError):
        interrupt(store)
    with store.rehearsing() as work:
        kept.add_study(work, "Two", "", {})
    with store.reading() as view:
        assert kept.list_studies(view) == ()


def test_threads_may_write_at_once(store: kept.Store) -> None:
    with ThreadPoolExecutor(8) as pool:
        made = list(pool.map(lambda _: add_invented(store, "Same title"), range(40)))
    assert {study.slug for study in made} == {"same-title"} | {f"same-title-{number}" for number in range(2, 41)}


WRITER = """
import io, sys
from datetime import UTC, datetime
from pathlib import Path
from wringout import store as kept
with kept.open_store(kept.place_at(Path(sys.argv[1])), lambda: datetime.now(UTC)) as store:
    for number in range(25):
        with store.writing() as work:
            study = kept.add_study(work, "Shared", "", {})
        kept.take_in(store, study.id, io.BytesIO(b"time,speed\\n0,%d\\n" % number), "run.csv")
        print(study.slug, flush=True)
"""


def test_programs_may_open_a_new_database_and_write_at_once(tmp_path: Path) -> None:
    path = tmp_path / "shared.db"
    programs = [
        subprocess.Popen([sys.executable, "-W", "error", "-c", WRITER, path], stdout=subprocess.PIPE, text=True)
        for _ in range(3)
    ]
    slugs = [slug for program in programs for slug in program.communicate()[0].split()]
    assert [program.returncode for program in programs] == [0, 0, 0]
    assert len(set(slugs)) == 75
    with open_at(path) as store, store.reading() as view:
        studies = kept.list_studies(view)
        assert {study.slug for study in studies} == set(slugs)
        assert len({kept.list_recordings(view, study.id)[0].recording.sha256 for study in studies}) == 25


def test_what_was_acknowledged_survives_a_kill(tmp_path: Path) -> None:
    path = tmp_path / "killed.db"
    acknowledged: list[str] = []
    for lines in (1, 3, 7, 12):
        program = subprocess.Popen([sys.executable, "-c", WRITER, path], stdout=subprocess.PIPE, text=True)
        assert program.stdout is not None
        acknowledged += [program.stdout.readline().strip() for _ in range(lines)]
        program.kill()
        acknowledged += program.communicate()[0].split()
    with open_at(path) as store, store.reading() as view:
        assert view.connection.execute(text("PRAGMA integrity_check")).scalar_one() == "ok"
        studies = {study.slug: study for study in kept.list_studies(view)}
        assert set(acknowledged) <= set(studies)
        assert len(studies) <= len(acknowledged) + 4  # at most the one under way at each kill
        for slug in acknowledged:
            (recording,) = kept.list_recordings(view, studies[slug].id)
            assert kept.read_recording_bytes(view, recording.recording.sha256).startswith(b"time,speed\n0,")


def test_the_clock_is_the_callers(tmp_path: Path) -> None:
    with kept.open_store(kept.place_at(tmp_path / "a.db"), ticking()) as store:
        assert add_invented(store).created_at == "2026-05-01T09:30:01.000Z"
