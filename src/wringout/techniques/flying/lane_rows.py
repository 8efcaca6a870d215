"""Rows of the buffer that lanes of trajectories share: row r of lane l stands at ``buffer[r + l]``.

Every name is an offset already multiplied by the number of lanes, so that a loop over lanes runs through memory one
number after the other and a vector unit takes several at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from wringout.techniques.flying.motion import Case
from wringout.techniques.flying.scores import SCORE_COUNT

LANES: Final = 64
"""Trajectories flown abreast: a bit of one number for each; four vectors of float32 on a machine of 512-bit registers.

More keep a vector unit busier while it waits for results, fewer keep the rows within the nearest cache.
"""


def _rows(first: int) -> Iterator[int]:
    while True:
        yield first
        first += LANES


# What a case starts with: its fields, what its aims are counted in, its airplane, the first stage, scores at nothing.
_next = _rows(len(Case._fields) * LANES)  # the fields of a Case stand first
CASE: Final = 0
LIFT_SLOPE: Final = Case._fields.index("lift_slope") * LANES

# What the aims of stages are counted in, in the order of `procedure.Aim`; the last is calibrated airspeed.
START_PITCH, CLIMB_PITCH, ENTRY_EAS, CLEAN_STALL_EAS, START_STALL_EAS, EAS_PER_CAS = (next(_next) for _ in range(6))
CAS_PER_EAS, ALPHA_PER_CL, START_SPEED, DAMPING = (next(_next) for _ in range(4))

# The node a step leads to, its thrust and its climb.
NEW_NODE: Final = next(_next)
for _ in range(6):
    next(_next)
NEW_CLIMB: Final = next(_next)

# What acts on the airplane at the end of a step (see `motion.Now`).
END_CONTROLS: Final = next(_next)
for _ in range(10):
    next(_next)
MODE, AIM, ROLLING = (next(_next) for _ in range(3))

# Devices in motion as straight lines in time, in the order GEAR, FLAPS, POWER, PITCH of the layout.
SINCE, FROM, RATE, ARRIVES, TARGET = (next(_next) for _ in range(5))
DEVICE: Final = next(_next) - SINCE
for _ in range(14):
    next(_next)

# The two flap settings the flap is between: squares for its area, straight lines for the rest.
LOW_SQUARE, PER_SQUARE, AREA_LOW, AREA_STEP, LOW, PER, SLOPE_LOW, SLOPE_STEP = (next(_next) for _ in range(8))
FLOOR_LOW, FLOOR_STEP, CL_LOW, CL_STEP, PASSES = (next(_next) for _ in range(5))
GEAR_FULL_AREA, DOORS, SHIELD, CL_CLEAN = (next(_next) for _ in range(4))
VFE_LOW, VFE_HIGH, VLE, VLO = (next(_next) for _ in range(4))

# When things happen.
DURATION, UNTIL_TIME, NEXT_SCORE, NEXT_MOVE, FORCED, QUIET, SHARP, UNREST = (next(_next) for _ in range(8))
CLIMBING_SINCE, PITCH_TOP, PITCH_WITHIN, LOADED, LOADED_WITHIN = (next(_next) for _ in range(5))

# Conditions on the state: ``w = of_eas EAS + of_height h + of_climb dh/dt + of_one``, met from below zero upwards.
OF_EAS, OF_HEIGHT, OF_CLIMB, OF_ONE = (next(_next) for _ in range(4))
WATCH: Final = next(_next) - OF_EAS
for _ in range(11):
    next(_next)
STAGE, FINISH, CONTACT, GATE = (k * WATCH for k in range(4))
OPENED: Final = OF_EAS + GATE
"""Rows up to here are the same for all techniques of a draw when a case is put into a lane."""

EARLIEST: Final = next(_next)
SCORE: Final = next(_next)
_next = _rows(SCORE + SCORE_COUNT * LANES)

# The node a step starts from; names with NEW, the one it leads to.
TIME, SPEED, PATH, HEIGHT, DISTANCE, EAS, PULL = (next(_next) for _ in range(7))
NODE_ROWS: Final = 7
STATES: Final = 4  # speed, path, height, distance
NEW: Final = NEW_NODE - TIME

# Rates of the state at the start of a step, twice in its middle, and at its end.
SPEED_RATE, PATH_RATE, CLIMB, ALONG = (next(_next) for _ in range(4))
TWO: Final = next(_next) - SPEED_RATE
THREE: Final = 2 * TWO
for _ in range(7):
    next(_next)
LAST: Final = next(_next) - SPEED_RATE
for _ in range(3):
    next(_next)

# What acts on the airplane at the start of a step, halfway through it and at its end.
POWER, ATTITUDE, GEAR_AT, FLAP_AT, GEAR_AREA, FLAP_AREA, FLAP_SLOPE, FLAP_FLOOR, SHIFT, CL_MAX, PER_CL_MAX = (
    next(_next) for _ in range(11)
)
CONTROL_ROWS: Final = 11
START: Final = 0
MIDDLE: Final = next(_next) - POWER
for _ in range(10):
    next(_next)
END: Final = END_CONTROLS - POWER

# The step of each lane; whether lift is cut at CLmax at its start and within it; what happened in it.
STEP, CAPPED, CAPPED_LATER, EVENT, FLAG, CLOSE = (next(_next) for _ in range(6))

# A stage of the step: its state and thrust; load and lift coefficient at the start of the step.
(
    STAGE_TIME,
    STAGE_SPEED,
    STAGE_PATH,
    STAGE_HEIGHT,
    STAGE_DISTANCE,
    STAGE_TURN,
    STAGE_PULL,
    PULL_SLOPE,
    LOAD,
    CL_ASKED,
) = (next(_next) for _ in range(10))

# The path relaxes at a rate of its own; what its part of a step is weighted with, and what drives it (see `stepping`).
RELAX, FADE, HALF_ONE, WEIGHT_1, WEIGHT_2, WEIGHT_4, DRIVE_2, DRIVE_3 = (next(_next) for _ in range(8))
SIZE: Final = next(_next)
