"""Layout of the flat arrays the kernel works on, and the making of those that hold no airplane.

The kernel knows no dataclasses: a situation, the conditions of a draw, a technique and a pilot law reach it as rows of
numbers, so a new procedure is new data and not a new branch. Indices start with the letter of their array.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from wringout.techniques.types import (
    MAX_ACTIONS,
    Device,
    EntryReference,
    FloatArray,
    Gate,
    GoAround,
    Law,
    Technique,
)

# Situation: one row per study.
G_FLAP: Final = 0  # rad
G_GEAR: Final = 1
G_PATH: Final = 2  # rad, flight-path angle on the approach, negative down
G_POWER_DELAY: Final = 3  # s
G_POWER_RAMP: Final = 4  # s
G_DURATION: Final = 5  # s
G_CLIMB_FACTOR: Final = 6  # multiples of the clean stall speed
G_PITCH_UP: Final = 7  # rad, NaN: attitude of the steady climb
G_PITCH_RATE: Final = 8  # rad/s
G_PATH_TIME: Final = 9  # s
G_SPEED_TIME: Final = 10  # s
G_LOAD_LOW: Final = 11
G_LOAD_HIGH: Final = 12
G_SIZE: Final = 13

# Conditions: one row per draw.
C_MASS: Final = 0  # kg, stated
C_ALTITUDE: Final = 1  # m, pressure altitude
C_ISA_DEVIATION: Final = 2  # K
C_ENTRY: Final = 3  # as stated in the domain
C_DENSITY: Final = 4  # kg/m3
C_TEMPERATURE: Final = 5  # K
C_ENTRY_EAS: Final = 6  # m/s, NaN where the entry speed is a multiple of the stall speed
C_EAS_PER_CAS: Final = 7  # near approach speeds
C_REACTIONS: Final = 8  # s, then MAX_ACTIONS values
C_SIZE: Final = C_REACTIONS + MAX_ACTIONS

CONDITION_NAMES: Final = (
    "mass_kg",
    "pressure_altitude_m",
    "isa_deviation_k",
    "entry_speed",
    "density_kgm3",
    "temperature_k",
    "entry_eas_mps",
    "eas_per_cas",
    *(f"reaction_{k + 1}_s" for k in range(MAX_ACTIONS)),
)

# Technique: one row per action.
A_DEVICE: Final = 0  # GEAR or FLAPS
A_TARGET: Final = 1  # 0..1 or rad
A_WAIT: Final = 2  # s
A_GATE: Final = 3
A_GATE_VALUE: Final = 4  # m/s
A_SETTLED: Final = 5  # 1: wait for the device to arrive where it is going
A_SIZE: Final = 6
GEAR: Final = 0
FLAPS: Final = 1
GATE_NONE: Final = 0
GATE_CLIMB: Final = 1
GATE_SPEED: Final = 2

# Start: what the kernel works out once per draw.
S_WEIGHT: Final = 0  # N
S_DENSITY: Final = 1  # kg/m3
S_DENSITY_1: Final = 2  # 1/m and 1/m2, series of density over height
S_DENSITY_2: Final = 3
S_SPEED: Final = 4  # m/s true
S_PATH: Final = 5  # rad
S_POWER: Final = 6  # W at the disk, approach power
S_PITCH: Final = 7  # rad
S_PITCH_CLIMB: Final = 8  # rad
S_EAS_ENTRY: Final = 9  # m/s
S_EAS_CLIMB: Final = 10  # m/s
S_LEVEL: Final = 11  # rad, always 0: the level flight path
S_TIME_POWER: Final = 12  # s, power begins to rise, rotation begins
S_TIME_FULL: Final = 13  # s, full power
S_TIME_PITCH: Final = 14  # s, rotation ends
S_DURATION: Final = 15  # s
S_PATH_TIME: Final = 16  # s
S_SPEED_TIME: Final = 17  # s
S_LOAD_LOW: Final = 18
S_LOAD_HIGH: Final = 19
S_EAS_PER_CAS: Final = 20
S_LIFT_TIME: Final = 21  # s, time constant of the flight path at a held attitude
S_SIZE: Final = 22

# Pilot law: one row per stage.
L_MODE: Final = 0
L_TARGET: Final = 1  # slot of the start row that holds the wanted speed (EAS) or path
L_UNTIL: Final = 2
L_UNTIL_SLOT: Final = 3  # slot of the start row that holds the time or the speed (EAS) that ends the stage
L_SIZE: Final = 4
MODE_ATTITUDE: Final = 0
MODE_SPEED: Final = 1
MODE_PATH: Final = 2
UNTIL_NEVER: Final = 0
UNTIL_TIME: Final = 1
UNTIL_SPEED: Final = 2

# Device motion: one row per device.
D_SINCE: Final = 0  # s
D_FROM: Final = 1
D_RATE: Final = 2  # per s
D_ARRIVES: Final = 3  # s
D_TARGET: Final = 4
D_SIZE: Final = 5

# Controls: what acts on the airplane at one time besides its state, and the stage of the pilot law being flown.
U_POWER: Final = 0  # 0 approach power, 1 full
U_PITCH: Final = 1  # rad, attitude if one is held
U_GEAR: Final = 2
U_FLAP: Final = 3  # rad
U_CL_MAX: Final = 4
U_MODE: Final = 5  # MODE_*
U_TARGET: Final = 6  # m/s equivalent or rad
U_UNTIL: Final = 7  # UNTIL_*
U_UNTIL_VALUE: Final = 8  # s or m/s equivalent
U_SINCE: Final = 9  # s, when the stage began
U_SIZE: Final = 10

# Node: the state at one time, its rates, and what came out on the way.
N_TIME: Final = 0
N_SPEED: Final = 1  # m/s true
N_PATH: Final = 2  # rad
N_HEIGHT: Final = 3  # m above the start
N_DISTANCE: Final = 4  # m in still air
N_SPEED_RATE: Final = 5
N_PATH_RATE: Final = 6
N_CLIMB: Final = 7  # m/s
N_GROUND_SPEED: Final = 8  # m/s, still air
N_LIFT: Final = 9  # N
N_LIFT_MAX: Final = 10  # N
N_LIFT_ASKED: Final = 11  # N, before the cap at CLmax
N_GEAR: Final = 12
N_FLAP: Final = 13  # rad
N_THRUST: Final = 14  # N
N_DRAG: Final = 15  # N
N_SIZE: Final = 16

_LAWS: Final = {
    Law.HOLD_ATTITUDE: ((MODE_ATTITUDE, S_PITCH, UNTIL_NEVER, 0),),
    Law.HOLD_SPEED: ((MODE_SPEED, S_EAS_ENTRY, UNTIL_NEVER, 0),),
    Law.LEVEL_THEN_CLIMB: (
        (MODE_SPEED, S_EAS_ENTRY, UNTIL_TIME, S_TIME_POWER),
        (MODE_PATH, S_LEVEL, UNTIL_SPEED, S_EAS_CLIMB),
        (MODE_SPEED, S_EAS_CLIMB, UNTIL_NEVER, 0),
    ),
}
_DEVICES: Final = {Device.GEAR: GEAR, Device.FLAPS: FLAPS}
_GATES: Final = {Gate.NONE: GATE_NONE, Gate.POSITIVE_CLIMB: GATE_CLIMB, Gate.SPEED: GATE_SPEED}


def law_rows(law: Law) -> FloatArray:
    """Return the stages of a pilot law, shape (stages, L_SIZE)."""
    return np.array(_LAWS[law], dtype=np.float64)


def action_rows(technique: Technique) -> FloatArray:
    """Return the actions of a technique, shape (actions, A_SIZE)."""
    rows = [
        (_DEVICES[a.device], a.target, a.wait_s, _GATES[a.gate], a.gate_value, a.when_settled)
        for a in technique.actions
    ]
    return np.array(rows, dtype=np.float64).reshape(len(rows), A_SIZE)


def situation_row(situation: GoAround) -> FloatArray:
    """Return the situation as a row, shape (G_SIZE,)."""
    row = np.empty(G_SIZE)
    row[G_FLAP], row[G_GEAR], row[G_PATH] = situation.start_flap_rad, situation.start_gear, -situation.descent_rad
    row[G_POWER_DELAY], row[G_POWER_RAMP] = situation.power_delay_s, situation.power_ramp_s
    row[G_DURATION], row[G_CLIMB_FACTOR] = situation.duration_s, situation.climb_speed_factor
    row[G_PITCH_UP] = math.nan if situation.pitch_up_rad is None else situation.pitch_up_rad
    handling = situation.handling
    row[G_PITCH_RATE], row[G_PATH_TIME] = handling.pitch_rate_rps, handling.path_time_s
    row[G_SPEED_TIME] = handling.speed_time_s
    row[G_LOAD_LOW], row[G_LOAD_HIGH] = handling.load_factor
    return row


def entry_is_factor(situation: GoAround) -> bool:
    """Return whether the entry speed is a multiple of the stall speed."""
    return situation.entry_speed.reference is EntryReference.VS0
