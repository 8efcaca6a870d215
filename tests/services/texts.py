"""An invented airplane and invented recordings, as a user would write them down."""

from __future__ import annotations

from datetime import UTC, datetime
from importlib.resources import files

MOMENT = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)

DEMO = files("wringout.services") / "demo_study"
AIRPLANE = (DEMO / "airplane.toml").read_text(encoding="utf-8")

GEAR_RUN = """\
# method: level deceleration
# altitude: 6000 ft
# temperature: 5 C
# weight: 3000 lb
time, speed, mark
0:00, 121
0:06, 121, gear down
0:14, 117, three green
0:20, 112
0:26, 108
0:32, 104
0:38, 101
0:44, 99
0:50, 97
0:56, 95
1:02, 94
1:08, 93
1:14, 92
1:20, 92, stable
"""

FLAP_RUN = """\
# method: level deceleration
# altitude: 6000 ft
# temperature: 5 C
# weight: 2950 lb
time, speed, mark
0:00, 107
0:06, 107, flaps full
0:12, 102, flaps stopped
0:18, 95
0:24, 89
0:30, 84
0:36, 81
0:42, 78
0:48, 76
0:54, 74
1:00, 73
1:06, 72
1:12, 72, stable
"""

STALLS = """\
# method: stall series
# altitude: 5000 ft
# weight: 2900 lb
flap, speed, entry rate
up, 59, 1
up, 58, 1.5
half, 52, 1
full, 49, 1
full, 48, 1
"""

TIMINGS = """\
# method: transit timing
device, from, to, seconds
gear, up, down, 7.1
gear, up, down, 6.9
gear, down, up, 7.0
flaps, up, full, 6.5
flaps, full, up, 5.3
"""

ODD_UNIT = """\
time;ias;altitude
s;m/s;m
0;238,5;2100
1;239;2101
2;240;2101
3;240;2101
4;239;2101
"""
"""A logger's table whose speed cannot be in metres per second."""

SWAPPED = "120, 0\n117, 6\n113, 12\n110, 18\n"
"""Hand-called readings with speed and time in the wrong columns."""

BINARY = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x01\x00"

RUNS = {"G1-gear.csv": GEAR_RUN, "F1-flaps.csv": FLAP_RUN, "S1-stalls.csv": STALLS, "T1-times.csv": TIMINGS}
"""Four recordings that suffice for a reduction with every kind of finding."""
