"""How fast recordings are read: plain tables of a million rows, several styles of time, and ten hours to proposed runs.

Run with ``python benchmarks/recordings.py``. Prints processor seconds and clock seconds, the best and the worst of the
repeats. Bars: a million rows a second for a plain table; ten hours at 10 Hz to proposed runs in under 3 s.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from wringout.recordings.changes import marks_from_channels
from wringout.recordings.finding.runs import find_runs
from wringout.recordings.reader import read_recording

ROWS = 100_000
PLAIN_ROWS = 1_000_000
TEN_HOURS_S, RATE_HZ = 36_000, 10
REPEATS = 5
SEED = 20260504
STYLES = {
    "seconds, 20 columns": ("Time (s)", lambda t: f"{t:.1f}"),
    "h:mm:ss, 20 columns": ("Time", lambda t: f"{int(t) // 3600}:{int(t) // 60 % 60:02d}:{t % 60:04.1f}"),
    "ISO 8601, 20 columns": (
        "Timestamp",
        lambda t: f"2026-05-04T{int(t) // 3600:02d}:{int(t) // 60 % 60:02d}:{t % 60:06.3f}Z",
    ),
}


def table(style: str) -> bytes:
    """Return an invented recording at 5 Hz, five and a half hours long, in which the flaps go out and back."""
    head, write = STYLES[style]
    rng = np.random.default_rng(SEED)
    time_s = np.arange(ROWS) / 5.0
    knots = 110.0 + rng.normal(0.0, 1.0, ROWS)
    feet = 7000.0 + rng.normal(0.0, 15.0, ROWS)
    flap = np.interp(time_s, [600.0, 608.0, 900.0, 908.0], [0.0, 30.0, 30.0, 0.0])
    unknown = ",".join(f"Probe {i}" for i in range(12))
    lines = [f"{head},IAS (kt),Altitude (ft),OAT (degC),MAP (inHg),RPM,Flaps (deg),Marker,{unknown}"]
    lines += [
        f"{write(t)},{v:.1f},{h:.0f},8.0,22.1,2400,{d:.1f},{',1.234' * 12}"
        for t, v, h, d in zip(time_s, knots, feet, flap, strict=True)
    ]
    return "\n".join([*lines, ""]).encode()


def plain_table() -> bytes:
    """Return an invented plain table: a million rows of eight columns of numbers."""
    rows = "".join(f"{i / 10:.1f},{100 + i % 7}.5,{7000 + i % 30},8.0,22.1,2400,1.5,0\n" for i in range(PLAIN_ROWS))
    return f"Time (s),IAS (kt),Altitude (ft),OAT (degC),MAP (inHg),RPM,Flaps (deg),Gear\n{rows}".encode()


def ten_hours() -> bytes:
    """Return an invented log of ten hours at 10 Hz, in which the gear goes out and back every ten minutes."""
    rng = np.random.default_rng(SEED)
    time_s = np.arange(TEN_HOURS_S * RATE_HZ) / RATE_HZ
    cycle = time_s % 600.0
    gear = np.interp(cycle, [100.0, 106.0, 300.0, 306.0], [0.0, 1.0, 1.0, 0.0])
    fall = np.where(
        cycle < 300.0, 1.0 - np.exp(-np.maximum(cycle - 100.0, 0.0) / 15.0), np.exp(-(cycle - 300.0) / 20.0)
    )
    knots = 120.0 - 22.0 * fall + rng.normal(0.0, 0.3, time_s.size)
    feet = 6500.0 + rng.normal(0.0, 4.0, time_s.size)
    rows = "".join(
        f"{int(t) // 3600 + 8}:{int(t) // 60 % 60:02d}:{t % 60:04.1f},{v:.1f},{h:.0f},8.0,22.0,2400,{g:.2f}\n"
        for t, v, h, g in zip(time_s.tolist(), knots.tolist(), feet.tolist(), gear.tolist(), strict=True)
    )
    return f"# kind: logger\nTime,IAS (kt),Pressure Altitude (ft),OAT (degC),MAP (inHg),RPM,Gear\n{rows}".encode()


def timed(work: Callable[[], object]) -> str:
    """Return processor and clock seconds of some work, the best and the worst of the repeats."""
    processor, clock = [], []
    for _ in range(REPEATS):
        begun, started = time.process_time(), time.perf_counter()
        work()
        processor.append(time.process_time() - begun)
        clock.append(time.perf_counter() - started)
    return (
        f"{min(processor):.2f} to {max(processor):.2f} s of processor, {min(clock):.2f} to {max(clock):.2f} s by clock"
    )


def main() -> None:
    """Time each kind of recording and print a line for it."""
    for style in STYLES:
        data = table(style)
        recording = read_recording(data, "bench.csv")
        assert len(recording) == ROWS
        assert len(marks_from_channels(recording)) == 4
        spent = timed(lambda d=data: read_recording(d, "bench.csv"))
        print(f"{style}, {ROWS:,} rows, {len(data) / 2**20:.0f} MB: {spent}")
    plain = plain_table()
    assert len(read_recording(plain, "plain.csv")) == PLAIN_ROWS
    spent = timed(lambda: read_recording(plain, "plain.csv"))
    print(f"plain table, {PLAIN_ROWS:,} rows, {len(plain) / 2**20:.0f} MB: {spent}")
    long = ten_hours()
    found = find_runs(read_recording(long, "long.csv"))
    assert sum(one.kind == "out and back" for one in found) >= 55
    print(
        f"ten hours at {RATE_HZ} Hz to {len(found)} proposals, {len(long) / 2**20:.0f} MB: "
        f"{timed(lambda: find_runs(read_recording(long, 'long.csv')))}"
    )


if __name__ == "__main__":
    main()
