"""A disk that is full, failing or interrupting, at every call that writes; docs/promises.md has the long figures."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.store import killing

ROOT = Path(__file__).parents[2]
COMPILER = shutil.which("cc") or shutil.which("gcc") or shutil.which("clang")


def below_the_library(folder: Path, module: str, *words: str) -> dict[str, object]:
    """Run a session with ``faults.c`` below Python and SQLite; return what it reports."""
    assert COMPILER is not None
    library = folder / "faults.so"
    source = Path(__file__).with_name("faults.c")
    subprocess.run([COMPILER, "-O1", "-shared", "-fPIC", "-o", library, source, "-ldl"], check=True)
    (folder / "work").mkdir()
    command = [sys.executable, "-m", module, str(folder / "work"), *words]
    environment = {**os.environ, "LD_PRELOAD": str(library)}
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    found: dict[str, object] = json.loads(done.stdout)
    return found


@pytest.mark.skipif(sys.platform != "linux" or COMPILER is None, reason="needs Linux and a C compiler")
def test_a_failing_disk_is_told_and_loses_and_doubles_nothing(tmp_path: Path) -> None:
    found = below_the_library(tmp_path, "tests.store.faulting", "160", "3")
    assert found["faults"] == []
    assert found["done"] == 160
    met = found["met"]
    assert isinstance(met, dict)
    steps = {name.split(" in ")[1] for name in met}
    assert steps == {step.__name__ for step in killing.STEPS}  # a fault fell into every kind of writing
    assert isinstance(found["told"], dict)
    assert found["told"]["ENOSPC"] > 5
    assert found["told"]["EIO"] > 5


@pytest.mark.skipif(sys.platform != "linux" or COMPILER is None, reason="needs Linux and a C compiler")
def test_nothing_is_acknowledged_before_it_is_synced(tmp_path: Path) -> None:
    found = below_the_library(tmp_path, "tests.store.watching", "3")
    assert found["faults"] == []
    assert found["planted seen"] is True
    syncs = found["syncs"]
    assert isinstance(syncs, int)
    assert syncs > 3 * killing.ROUND
