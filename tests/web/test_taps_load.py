"""Twenty devices tap ten times a second into a real workbench; `benchmarks/taps_load.py` measures how long it takes."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import urlsplit

from benchmarks.taps_load import DEVICES, Device, lost_and_doubled, make_study, tap_away
from tests.web.live import run_apart, served

SECONDS = 5.0


def test_no_tap_is_lost_or_doubled_under_load(tmp_path: Path) -> None:
    database = tmp_path / "study.db"
    path = make_study(database)
    devices = [Device(f"device-{i}") for i in range(DEVICES)]
    with served(database) as address:
        port = urlsplit(address).port
        assert port is not None
        run_apart(tap_away(port, path, devices, SECONDS))
    kept, lost, doubled = lost_and_doubled(database, devices)
    assert (lost, doubled) == (0, 0)
    assert kept == sum(len(device.taps) for device in devices)
    assert kept > DEVICES
    missing = [*devices, Device("planted", [{"sequence": 1, "label": "never sent"}])]
    assert lost_and_doubled(database, missing)[1] == 1
