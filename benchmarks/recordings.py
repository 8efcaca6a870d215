"""How long it takes to read a recording of 100,000 rows, in several styles of time column.

Run with ``python benchmarks/recordings.py``. Prints seconds (the best and the worst of five) and the size of each file.
"""

from __future__ import annotations

import time

import numpy as np

from wringout.recordings.changes import marks_from_channels
from wringout.recordings.reader import read_recording

ROWS = 100_000
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


def main() -> None:
    """Time each style and print a line for it."""
    for style in STYLES:
        data = table(style)
        seconds = []
        for _ in range(REPEATS):
            start = time.perf_counter()
            recording = read_recording(data, "bench.csv")
            seconds.append(time.perf_counter() - start)
        start = time.perf_counter()
        marks = marks_from_channels(recording)
        looking = time.perf_counter() - start
        assert len(recording) == ROWS
        assert len(marks) == 4
        print(
            f"{style}: {ROWS:,} rows, {len(data) / 2**20:.0f} MB: read in {min(seconds):.2f} to {max(seconds):.2f} s, "
            f"movement found in {looking:.2f} s"
        )


if __name__ == "__main__":
    main()
