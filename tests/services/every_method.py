"""One invented recording for each flight-test method, as a user would write it down."""

from __future__ import annotations

from tests.services.texts import FLAP_RUN, GEAR_RUN, STALLS, TIMINGS

LEGS = """\
# altitude: 6000 ft
# temperature: 6 C
# weight: 2900 lb
speed, ground speed, track
80, 88, 40
80, 103, 147
80, 79, 263
80, 88, 40
100, 110, 38
100, 124, 148
100, 99, 264
100, 109, 38
125, 135, 36
125, 151, 148
125, 126, 266
125, 135, 36
"""

CLIMBS = """\
# method: climb
# altitude: 5000 ft
# temperature: 7 C
# weight: 2900 lb
# power: full
flap, speed, vertical speed, heading
up, 70, 680, 20
up, 70, 700, 200
up, 78, 720, 20
up, 78, 690, 200
up, 86, 700, 20
up, 86, 740, 200
up, 95, 690, 20
up, 95, 660, 200
up, 105, 600, 20
up, 105, 580, 200
"""

GLIDES = """\
# method: glide
# altitude: 6000 ft
# temperature: 5 C
# weight: 2900 lb
# power: zero thrust
flap, gear, speed, vertical speed
up, up, 72, -800
up, up, 80, -840
up, up, 90, -900
up, up, 105, -1070
up, up, 120, -1340
up, down, 75, -1020
up, down, 85, -1180
up, down, 100, -1510
"""

FASTER = """\
# method: level acceleration
# altitude: 6000 ft
# temperature: 5 C
# weight: 2950 lb
# power: full
time, speed
0, 80
5, 86
10, 92
15, 97
20, 102
25, 106
30, 110
35, 113
40, 116
45, 118
50, 120
55, 122
60, 124
65, 125
70, 126
75, 127
80, 128
85, 129
90, 129
95, 130
"""

LEVELS = """\
# power chart: 17 in 2300 rpm = 110 hp; 19 in 2300 rpm = 128 hp; 21 in 2300 rpm = 153 hp; 23 in 2300 rpm = 184 hp
# method: level power
# altitude: 7000 ft
# temperature: 3 C
# weight: 2900 lb
flap, gear, speed, manifold pressure, rpm
up, up, 95, 17, 2300
up, up, 108, 19, 2300
up, up, 120, 21, 2300
up, up, 132, 23, 2300
"""

GEAR_AND_BACK = """\
# method: out-and-back
# altitude: 6000 ft
# temperature: 5 C
# weight: 2950 lb
time, speed, mark
0, 118
6, 118
12, 118, gear down
18, 116
24, 110
30, 106
36, 103
42, 101
48, 97
54, 96
60, 94
66, 94
72, 92
78, 92
84, 91
90, 91
96, 90
102, 90
108, 89, gear up
114, 90
120, 95
126, 97
132, 101
138, 103
144, 104
150, 107
156, 108
162, 110
168, 111
174, 111
180, 113
186, 114
192, 115
198, 114
204, 116
210, 115,
"""

IDLE_GEAR = """\
# method: slow down
# altitude: 5000 ft
# temperature: 7 C
# weight: 2900 lb
# power: idle
# to speed: 90 kt
time, speed, altitude, mark
0, 135, 5000
5, 123, 5000
10, 112, 5000
15, 102, 5000, gear down
20, 92, 5000
25, 79, 5000,
"""

PAIRS = """\
# altitude: 4000 ft
# weight: 2900 lb
# matters: 25 ft, 2 s
pair, technique, entry speed (kt), entry descent (ft/min), height lost (ft), time to climb (s), height at 30 s (ft)
1, gear first, 77, 550, 101, 5.7, 265
1, flaps first, 73, 550, 93, 4.6, 262
2, flaps first, 73, 550, 81, 4.1, 256
2, gear first, 74, 600, 107, 5.1, 238
3, gear first, 77, 550, 93, 5.0, 279
3, flaps first, 76, 500, 80, 4.6, 284
4, flaps first, 74, 550, 100, 4.4, 261
4, gear first, 74, 600, 108, 5.4, 259
5, gear first, 76, 550, 99, 5.2, 257
5, flaps first, 75, 500, 81, 4.6, 314
6, flaps first, 75, 550, 74, 5.3, 290
6, gear first, 75, 550, 112, 5.5, 251
"""

BY_METHOD = {
    "airspeed calibration": ("legs.csv", LEGS),
    "climb": ("climbs.csv", CLIMBS),
    "glide": ("glides.csv", GLIDES),
    "go around pairs": ("pairs.csv", PAIRS),
    "level acceleration": ("faster.csv", FASTER),
    "level deceleration": ("gear.csv", GEAR_RUN),
    "level power": ("levels.csv", LEVELS),
    "out and back": ("gear-and-back.csv", GEAR_AND_BACK),
    "slow down": ("idle-gear.csv", IDLE_GEAR),
    "stall series": ("stalls.csv", STALLS),
    "transit timing": ("times.csv", TIMINGS),
}
"""File name and text by the key of the method; the legs and the pairs do not name theirs."""
FLAPS = ("flaps.csv", FLAP_RUN)
