"""The commands of register, fleet and archives, as a user types them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from tests.fleet.flights import GO_AROUND, LANDING
from wringout.cli.main import cli


class Typed:
    """A folder with a database, and commands typed in it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def run(self, *words: str) -> Result:
        database = [] if words[0] == "archives" else ["--database", str(self.folder / "library.db")]
        return CliRunner().invoke(cli, [*words, *database])

    def ok(self, *words: str) -> str:
        result = self.run(*words)
        assert result.exit_code == 0, result.stderr
        return result.stdout

    def json(self, *words: str) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self.ok(*words, "--json"))
        return found


@pytest.fixture
def typed(tmp_path: Path) -> Typed:
    found = Typed(tmp_path)
    assert "All of it is invented" in found.ok("fleet", "demo")
    return found


def test_the_register_is_listed_asked_and_checked(typed: Typed) -> None:
    assert typed.ok("register", "list").startswith("7 entries.")
    entries = typed.json("register", "list", "--model", "Quillback 230")["entries"]
    assert len(entries) == 3
    said = typed.ok("register", "holds", "Quillback 230", "1100", "--on", "1970-01-01")
    assert "revision A" in said
    assert "approved manual" in said
    assert "no entry holds for serials 1251-1299" in typed.ok("register", "check")
    assert typed.json("register", "show", entries[0]["key"][:8])["document"] == "Pilot's Handbook Quillback 230"


def test_an_entry_is_written_changed_and_removed(typed: Typed) -> None:
    fields = ["family=Quillback", "model=Q9", "serials=1-9", "document=Book", "date=1970-01-01"]
    typed.ok("register", "put", *fields, "steps=power full; gear up")
    key = typed.json("register", "list", "--model", "Q9")["entries"][0]["key"]
    changed = typed.json("register", "put", "--key", key, "steps=power full; flaps up; gear up")
    assert (changed["order"], changed["revision_in_library"]) == ("flaps up, gear up", 2)
    typed.ok("register", "remove", key)
    assert typed.json("register", "list", "--model", "Q9")["entries"] == []


def test_a_bad_row_is_told_and_ends_with_3(typed: Typed, tmp_path: Path) -> None:
    table = tmp_path / "r.csv"
    typed.ok("register", "export", str(table))
    table.write_text(table.read_text(encoding="utf-8").replace("1963-09-15", "1963"), encoding="utf-8")
    refused = typed.run("register", "import", str(table))
    assert refused.exit_code == 3
    assert "r.csv, row 3, date: '1963' is no date; write year-month-day, such as 1998-06-15." in refused.stderr
    assert "Nothing is kept." in refused.stdout
    assert typed.run("register", "export", str(table)).exit_code == 3  # never over a file that is there, unasked


def test_findings_are_pooled_passed_on_and_merged(typed: Typed, tmp_path: Path) -> None:
    said = typed.ok("fleet", "pool", "Quillback 230", "area.gear.middle")
    assert "in the mean of 6 airplanes (95 %:" in said
    assert len(typed.json("fleet", "pool", "Quillback 230")["quantities"]) == 2
    shared = tmp_path / "ours.json"
    assert "Taken out" in typed.ok("fleet", "export", str(shared))
    other = Typed(tmp_path / "other")
    other.folder.mkdir()
    assert "50 new, 0 known already, 0 in conflict" in other.ok("fleet", "merge", str(shared))
    assert other.json("fleet", "conflicts")["conflicts"] == []
    assert typed.run("fleet", "pool", "Nothing", "x").exit_code == 5


def test_an_archive_is_scanned_and_its_orders_counted(typed: Typed, tmp_path: Path) -> None:
    logs = tmp_path / "logs"
    logs.mkdir()
    (logs / "a.csv").write_text(GO_AROUND, encoding="utf-8")
    (logs / "b.csv").write_text(LANDING, encoding="utf-8")
    out = str(tmp_path / "out")
    assert "The tables hold 1 go-around and 7 movements" in typed.ok(
        "archives", "scan", str(logs), "-o", out, "--processes", "0"
    )
    assert typed.json("archives", "show", out)["orders"] == [{"order": "flaps 20, gear up, flaps 0", "count": 1}]
    again = typed.json("archives", "scan", str(logs), "-o", out, "--processes", "0")
    assert (again["files"], again["skipped"]) == (0, 2)
