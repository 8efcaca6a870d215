from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.samples import open_at
from wringout.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_at(tmp_path / "study.sqlite3") as opened:
        yield opened
