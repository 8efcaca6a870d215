from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from tests.cli.conftest import Desk
from tests.services.texts import AIRPLANE, RUNS

PAGE = (Path(__file__).parents[2] / "docs" / "json.md").read_text(encoding="utf-8")


def test_undo_and_redo(study: Desk) -> None:
    other = AIRPLANE + "\n# a remark\n"
    study.ok("airplane", "put", study.file("other.toml", other))
    number = len(study.json("history")["edits"])
    said = study.ok("undo")
    assert f"Edit {number} is undone: airplane put" in said
    assert f"wringout redo {number}" in said
    assert len(study.json("history")["edits"]) == number + 2
    again = study.run("undo", str(number))
    assert (again.exit_code, again.stderr.strip()) == (
        3,
        f"undo: edit {number} is undone already; choose another.",
    )
    assert f"Edit {number} is redone" in study.ok("redo", str(number))
    found = study.json("undo")
    assert (found["kind"], found["number"], found["state"]) == ("edit", number, "undone")
    assert f"{number}  " in study.ok("history")


def test_a_run_that_was_added_is_set_aside_and_comes_back(study: Desk) -> None:
    name, text = next(iter(RUNS.items()))
    study.ok("take-in", study.file(name, text))
    study.ok("undo")
    assert "adding it was undone" in study.ok("runs")
    study.ok("redo")
    assert "adding it was undone" not in study.ok("runs")


def test_backup_restore_and_rescue(study: Desk, tmp_path: Path) -> None:
    name, text = next(iter(RUNS.items()))
    study.ok("take-in", study.file(name, text))
    before = study.json("runs")
    assert "with 1 recording," in study.ok("backup", str(tmp_path / "all.zip"))
    assert "exists already" in study.run("backup", str(tmp_path / "all.zip")).stderr
    with closing(sqlite3.connect(study.database)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    study.database.write_bytes(b"\xa5" * study.database.stat().st_size)
    told = study.run("studies")
    assert told.exit_code == 5
    assert "run 'wringout rescue'" in told.stderr
    said = study.ok("rescue")
    assert "1 recording is saved" in said
    assert "'rescued-recordings'" in said
    assert "study.damaged-1.db" in said
    assert "there is a database at" in study.run("restore", str(tmp_path / "all.zip")).stderr
    assert "kept as" in study.ok("restore", str(tmp_path / "all.zip"), "--replace")
    assert study.json("runs") == before
    found = study.json("backup", str(tmp_path / "again.zip"))
    assert (found["kind"], found["recordings"]) == ("backup", 1)
    for field in ("backup", "restore", "rescue", "edit", "notices", "loose_study", "aside"):
        assert f"`{field}`" in PAGE
