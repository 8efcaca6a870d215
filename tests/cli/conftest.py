from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from tests.services.texts import AIRPLANE, RUNS
from wringout.cli.main import cli


@dataclass(frozen=True)
class Desk:
    """A folder with a database in it, and the command line."""

    folder: Path

    @property
    def database(self) -> Path:
        return self.folder / "study.db"

    def file(self, name: str, data: str | bytes) -> str:
        path = self.folder / name
        path.write_bytes(data.encode() if isinstance(data, str) else data)
        return str(path)

    def run(self, *words: str) -> Result:
        environment = {"WRINGOUT_DATABASE": str(self.database), "WRINGOUT_STUDY": None, "WRINGOUT_UNITS": None}
        return CliRunner().invoke(cli, [str(word) for word in words], env=environment, prog_name="wringout")

    def ok(self, *words: str) -> str:
        result = self.run(*words)
        assert result.exit_code == 0, f"{words}: {result.exit_code}\n{result.stdout}\n{result.stderr}"
        return result.stdout

    def json(self, *words: str) -> Any:
        return json.loads(self.ok(*words, "--json"))


def study_at(folder: Path, runs: dict[str, str]) -> Desk:
    desk = Desk(folder)
    desk.ok("new", "Gear or flaps first?", "--question", "Which costs more?", "--invented")
    desk.ok("airplane", "put", desk.file("airplane.toml", AIRPLANE))
    if runs:
        desk.ok("take-in", *(desk.file(name, text) for name, text in runs.items()))
    return desk


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """An empty folder."""
    return Desk(tmp_path)


@pytest.fixture
def study(tmp_path: Path) -> Desk:
    """A study with its airplane and no recordings."""
    return study_at(tmp_path, {})


@pytest.fixture(scope="module")
def reduced(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    """A study of four recordings, reduced and compared on few draws."""
    desk = study_at(tmp_path_factory.mktemp("reduced"), RUNS)
    desk.ok("reduce", "--draws", "400")
    desk.ok("compare", "--draws", "100")
    return desk
