"""Rows of the buffer that lanes of trajectories share: row r of lane l stands at ``buffer[r + l]``.

Every name is an offset already multiplied by the number of lanes, so that a loop over lanes runs through memory one
number after the other and a vector unit takes several at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from wringout.techniques.motion import Case
from wringout.techniques.scores import SCORE_COUNT

LANES: Final = 32
"""Trajectories flown abreast: four vectors of float32 or eight of float64 on a machine with 256-bit registers."""


def _rows(first: int) -> Iterator[int]:
    while True:
        yield first
        first += LANES


_next = _rows(len(Case._fields) * LANES)  # the fields of a Case stand first
CASE: Final = 0
LIFT_SLOPE: Final = Case._fields.index("lift_slope") * LANES

# What the aims of stages are counted in, in the order of `procedure.Aim`; the last is calibrated airspeed.
START_PITCH, CLIMB_PITCH, ENTRY_EAS, CLEAN_STALL_EAS, START_STALL_EAS, EAS_PER_CAS = (next(_next) for _ in range(6))

# The node a step starts from, and (names with NEW) the one it leads to.
TIME, SPEED, PATH, HEIGHT, DISTANCE, SPEED_RATE, PATH_RATE, CLIMB, ALONG = (next(_next) for _ in range(9))
LIFT, MOST, ASKED, EAS = (next(_next) for _ in range(4))
NEW: Final = next(_next) - TIME
for _ in range(12):
    next(_next)

# Rates at the two middles of a Runge-Kutta step, placed like those of a node.
TWO: Final = next(_next) - SPEED_RATE
THREE: Final = TWO + 4 * LANES
for _ in range(7):
    next(_next)

# What acts on the airplane halfway through the step and at its end (see `motion.Now`).
POWER, ATTITUDE, GEAR_AREA, FLAP_AREA, FLAP_SLOPE, SHIFT, CL_MAX, GEAR_AT, FLAP_AT = (next(_next) for _ in range(9))
MIDDLE: Final = 0
END: Final = next(_next) - POWER
for _ in range(8):
    next(_next)
MODE, AIM, ROLLING = (next(_next) for _ in range(3))

# Devices in motion as straight lines in time, in the order GEAR, FLAPS, POWER, PITCH of the layout.
SINCE, FROM, RATE, ARRIVES, TARGET = (next(_next) for _ in range(5))
DEVICE: Final = next(_next) - SINCE
for _ in range(14):
    next(_next)

# The two flap settings the flap is between: squares for its area, straight lines for the rest.
LOW_SQUARE, PER_SQUARE, AREA_LOW, AREA_STEP, LOW, PER, SLOPE_LOW, SLOPE_STEP, CL_LOW, CL_STEP, PASSES = (
    next(_next) for _ in range(11)
)
GEAR_FULL_AREA, DOORS, SHIELD, CL_CLEAN = (next(_next) for _ in range(4))
VFE_LOW, VFE_HIGH, VLE, VLO = (next(_next) for _ in range(4))

# When things happen, and how long steps may be.
DURATION, EARLIEST, UNTIL_TIME, NEXT_SCORE, NEXT_MOVE, FORCED, FORCED_BY = (next(_next) for _ in range(7))
CORNER, STEP, QUIET, LIFT_TIME, PATH_TIME, CLOSE, FLAG, ACCEPT = (next(_next) for _ in range(8))

# Conditions on the state: ``w = of_eas EAS + of_height h + of_climb dh/dt + of_one``, met from below zero upwards.
OF_EAS, OF_HEIGHT, OF_CLIMB, OF_ONE = (next(_next) for _ in range(4))
WATCH: Final = next(_next) - OF_EAS
for _ in range(11):
    next(_next)
GATE, STAGE, FINISH, CONTACT = (k * WATCH for k in range(4))

CLIMBING_SINCE, PITCH_TOP, START_SPEED = (next(_next) for _ in range(3))
SCORE: Final = next(_next)
SIZE: Final = SCORE + SCORE_COUNT * LANES
