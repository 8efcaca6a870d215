"""Stalls are looked for about the stall speed believed of the airplane, where one is stated."""

from __future__ import annotations

import numpy as np

from wringout.recordings.finding.runs import find_runs
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Recording


def a_log(*, slowest_kt: float, roll_kt: float = 80.0) -> Recording:
    """An invented log: 90 kt, a slow fall to a low point that is broken off with height lost, then a roll-out."""
    times = np.arange(600.0)
    fall = np.clip((times - 200.0) / 30.0, 0.0, 1.0) - np.clip((times - 230.0) / 8.0, 0.0, 1.0)
    speed = 90.0 - (90.0 - slowest_kt) * fall
    speed[500:] = roll_kt
    height = 6000.0 - 150.0 * np.clip((times - 228.0) / 10.0, 0.0, 1.0)
    rows = "".join(f"{t:.0f},{v:.1f},{h:.0f}\n" for t, v, h in zip(times, speed, height, strict=True))
    return read_recording(f"# kind: logger\nTime (s),IAS (kt),Pressure Altitude (ft)\n{rows}".encode(), "log.csv")


def stalls_in(log: Recording, stall_kt: tuple[float, float] | None) -> int:
    return sum(one.kind == "stall" for one in find_runs(log, stall_kt))


def test_a_break_well_above_every_stall_speed_of_the_airplane_is_no_stall() -> None:
    log = a_log(slowest_kt=75.0)
    assert stalls_in(log, None) == 1
    assert stalls_in(log, (45.0, 61.0)) == 0


def test_rolling_out_does_not_hide_a_stall_whose_speed_is_stated() -> None:
    log = a_log(slowest_kt=58.0, roll_kt=38.0)
    assert stalls_in(log, None) == 0
    assert stalls_in(log, (45.0, 61.0)) == 1
