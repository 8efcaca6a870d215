"""Whether equations are compiled is told for each kind of work, and anew when a file has changed."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

import wringout.airplane
import wringout.techniques.flying
from wringout.services.matchups.compiled import Work, is_compiled


def test_each_kind_of_work_asks_for_its_own_equations(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("wringout.services.matchups.compiled.config.CACHE_DIR", "", raising=False)
    rooms = {}
    for package, module in ((wringout.airplane, "forces"), (wringout.techniques.flying, "kernel")):
        room = tmp_path / module
        (room / "__pycache__").mkdir(parents=True)
        (room / f"{module}.py").write_text("")
        monkeypatch.setattr(package, "__path__", [str(room)])
        rooms[module] = room
    assert not is_compiled(Work.REDUCTION)
    (rooms["forces"] / "__pycache__" / "forces.drag-1.py311.nbi").write_bytes(b"float64")
    assert is_compiled(Work.REDUCTION)
    assert not is_compiled(Work.MATCHUP)
    index = rooms["kernel"] / "__pycache__" / "kernel.fly-1.py311.nbi"
    index.write_bytes(b"float64")
    assert is_compiled(Work.MATCHUP)
    assert not is_compiled(Work.MAP)
    index.write_bytes(b"float64 float32")
    assert is_compiled(Work.MAP)
    os.utime(index, (1.0, 1.0))  # the source is newer: it will be compiled again
    assert not is_compiled(Work.MATCHUP)
