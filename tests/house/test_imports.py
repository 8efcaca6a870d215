"""The import contract in pyproject.toml holds, and notices a breach planted in a copy of the package."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.house.tree import ROOT

CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"]
LAYERS = next(contract for contract in CONTRACTS if contract["id"] == "layers")["layers"]
PURE = next(contract for contract in CONTRACTS if contract["id"] == "pure-core")
OUTER_ROOMS = {"web", "cli", "services", "briefs", "store", "cockpit"}
"""Rooms that may touch files, or whose contract is written when they are built."""


def _lint(source_folder: Path) -> subprocess.CompletedProcess[str]:
    """Run the contracts on the copy of the package in a folder; the folder's own copy comes first on the path."""
    program = Path(sys.executable).with_name("lint-imports")
    return subprocess.run(
        [str(program), "--no-logo", "--no-cache", str(ROOT / "pyproject.toml")],
        cwd=source_folder,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    shutil.copytree(
        ROOT / "src" / "wringout", tmp_path / "wringout", ignore=shutil.ignore_patterns("__pycache__", "*.ttf")
    )
    return tmp_path


def _plant(folder: Path, name: str, text: str) -> None:
    path = folder / "wringout" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f'"""Planted."""\n\n{text}\n', encoding="utf-8")


def test_the_contract_holds(copied: Path) -> None:
    done = _lint(copied)
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{len(CONTRACTS)} kept, 0 broken" in done.stdout


@pytest.mark.parametrize(
    ("name", "text", "noticed"),
    [
        ("units.py", "import wringout.atmosphere", "wringout.units -> wringout.atmosphere"),
        ("airplane/planted.py", "from wringout import services", "wringout.airplane.planted -> wringout.services"),
        ("airplane/planted.py", "import wringout.recordings", "wringout.airplane.planted -> wringout.recordings"),
        ("store/planted.py", "import wringout.briefs", "wringout.store.planted -> wringout.briefs"),
        ("airplane/planted.py", "import sqlite3", "wringout.airplane.planted -> sqlite3"),
        ("recordings/planted.py", "from pathlib import Path", "wringout.recordings.planted -> pathlib"),
        ("methods/planted.py", "import matplotlib.pyplot", "wringout.methods.planted -> matplotlib"),
        ("techniques/planted.py", "import time", "wringout.techniques.planted -> time"),
        ("estimate/planted.py", "import random", "wringout.estimate.planted -> random"),
        (
            "recordings/tracks/planted.py",
            "import wringout.recordings.tables.logged",
            "wringout.recordings.tracks.planted -> wringout.recordings.tables.logged",
        ),
        (
            "techniques/flying/pace.py",
            "import wringout.techniques.judging.rule",
            "wringout.techniques.flying.pace -> wringout.techniques.judging.rule",
        ),
        ("oddments.py", "", "oddments"),
        ("attic/__init__.py", "", "attic"),
    ],
)
def test_a_planted_breach_is_noticed(copied: Path, name: str, text: str, noticed: str) -> None:
    _plant(copied, name, text)
    done = _lint(copied)
    assert done.returncode != 0
    assert noticed in done.stdout, done.stdout


def test_every_inner_room_is_held_to_the_pure_core() -> None:
    rooms = {room.strip(" ()") for layer in LAYERS for room in layer.split("|")}
    inner = {room for room in rooms - OUTER_ROOMS if (ROOT / "src" / "wringout" / room).is_dir()}
    inner |= {room for room in rooms - OUTER_ROOMS if (ROOT / "src" / "wringout" / f"{room}.py").is_file()}
    held = {module.removeprefix("wringout.") for module in PURE["source_modules"]}
    assert inner == held
