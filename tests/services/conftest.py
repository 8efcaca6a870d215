from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.services.texts import AIRPLANE, MOMENT, RUNS
from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.findings.reduce import Reduced, reduce_study
from wringout.services.flights.recordings import take_in_recording
from wringout.services.opening import open_studies
from wringout.services.study.studies import make_study
from wringout.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """A store with one study and its airplane, no recordings."""
    with open_studies(tmp_path / "study.db", lambda: MOMENT) as opened:
        make_study(opened, "Gear or flaps", "Which costs more?", {"smallest": "25 ft"}, invented=True)
        put_airplane_file(opened, None, AIRPLANE.encode(), "airplane.toml")
        yield opened


@pytest.fixture(scope="module")
def reduced(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, Reduced]]:
    """A store with one study of four recordings, reduced."""
    with open_studies(tmp_path_factory.mktemp("reduced") / "study.db", lambda: MOMENT) as opened:
        make_study(opened, "Gear or flaps", "Which costs more?", {"smallest": "25 ft"}, invented=True)
        put_airplane_file(opened, None, AIRPLANE.encode(), "airplane.toml")
        for name, text in RUNS.items():
            take_in_recording(opened, None, io.BytesIO(text.encode()), name)
        yield opened, reduce_study(opened, None, draws=400, seed=7)
