"""The core calls no built-in that reaches outside, reads no clock, rolls no dice of its own, keeps no global state."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.house.purity import breaches
from tests.house.test_imports import PURE
from tests.house.tree import ROOT


def _core_modules(source: Path) -> list[Path]:
    found: list[Path] = []
    for module in PURE["source_modules"]:
        place = source.joinpath(*module.split("."))
        found += sorted(place.rglob("*.py")) if place.is_dir() else [place.with_suffix(".py")]
    return found


def test_the_modules_looked_at_are_the_core() -> None:
    names = {path.relative_to(ROOT / "src" / "wringout").as_posix() for path in _core_modules(ROOT / "src")}
    assert {"units.py", "atmosphere.py", "airspeed.py", "errors.py"} <= names
    assert any(name.startswith("airplane/") for name in names)
    assert not any(name.startswith(("store/", "cli/", "services/", "briefs/")) for name in names)


def test_the_core_reaches_for_nothing_outside_its_arguments() -> None:
    found = [
        f"{path.relative_to(ROOT)}, {breach}"
        for path in _core_modules(ROOT / "src")
        for breach in breaches(path.read_text(encoding="utf-8"))
    ]
    assert not found, "\n" + "\n".join(found)


@pytest.mark.parametrize(
    "planted",
    [
        "with open('readings.csv') as f:\n    pass",
        "read = open",
        "print('done')",
        "answer = input()",
        "text = path.read_text()",
        "table = np.loadtxt('a.txt')",
        "table = np.load('a.npy')",
        "frame = pl.scan_csv('a.csv')",
        "at = datetime.now(UTC)",
        "at = datetime.datetime.utcnow()",
        "day = date.today()",
        "x = np.random.normal()",
        "rng = np.random.default_rng()",
        "def f():\n    global cache\n    cache = 1",
    ],
)
def test_a_planted_reach_is_noticed(planted: str) -> None:
    assert len(breaches(f'"""Planted."""\n{planted}\n')) == 1


@pytest.mark.parametrize(
    "innocent",
    [
        "rng = np.random.default_rng(seed)",
        "def draw(rng: np.random.Generator) -> float:\n    return rng.normal()",
        "at = datetime.fromisoformat(text)",
        "frame = pl.read_csv(stream)",
        "gear.open_doors = 1",
        "now = clock()",
    ],
)
def test_what_works_on_arguments_is_left_alone(innocent: str) -> None:
    assert breaches(innocent) == []
