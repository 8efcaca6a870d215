"""Layout of the flat tables the kernel reads, and the making of those that hold no airplane.

The kernel knows no dataclasses: a procedure, conditions and a technique reach it as rows of numbers, so a new procedure
is new data and not a new branch. Indices start with the letter of their table.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from wringout.techniques.flying.motion import MODE_ATTITUDE, MODE_PATH, MODE_SPEED
from wringout.techniques.stated.procedure import MAX_POWER_MOVES, MAX_STAGES, Aim, Procedure, StartPower, Until, When
from wringout.techniques.stated.types import MAX_ACTIONS, Device, EntryReference, FloatArray, Gate, Situation, Technique

# Procedure: one row each.
P_FLAP: Final = 0  # rad
P_GEAR: Final = 1
P_PATH: Final = 2  # rad, positive up; NaN: the steady path
P_POWER: Final = 3  # START_*
P_HANDS_FREE: Final = 4  # s
P_DURATION: Final = 5  # s
P_PITCH_RATE: Final = 6  # rad/s
P_PATH_TIME: Final = 7  # s
P_SPEED_TIME: Final = 8  # s
P_LOAD_LOW: Final = 9
P_LOAD_HIGH: Final = 10
P_PATH_RATE: Final = 11  # rad/s
P_HEIGHT: Final = 12  # m above the ground
P_WING_HEIGHT: Final = 13  # m above the wheels
P_FRICTION: Final = 14
P_RUNWAY: Final = 15  # 1: there is one
P_GEAR_LOW: Final = 16
P_GEAR_HIGH: Final = 17
P_FLAP_LOW: Final = 18  # rad
P_FLAP_HIGH: Final = 19
P_DEAD_AREA: Final = 20  # m2
P_POWER_TRAVEL: Final = 21  # s
P_STAGES: Final = 22  # number
P_MOVES: Final = 23  # number
P_END: Final = 24  # a condition, W_SIZE values
W_WHEN: Final = 0
W_VALUE: Final = 1
W_AIM: Final = 2
W_SIZE: Final = 3
P_SIZE: Final = P_END + W_SIZE
START_BALANCED: Final = 0
START_NONE: Final = 1
START_FULL: Final = 2

# Stages of a procedure: one row each.
L_MODE: Final = 0
L_AIM: Final = 1
L_VALUE: Final = 2
L_UNTIL: Final = 3
L_SIZE: Final = L_UNTIL + W_SIZE
AIM_START_ATTITUDE: Final = 0
AIM_CLIMB_ATTITUDE: Final = 1
AIM_ENTRY_SPEED: Final = 2
AIM_CLEAN_STALL: Final = 3
AIM_START_STALL: Final = 4
AIM_CALIBRATED: Final = 5
AIM_PATH: Final = 6
WHEN_NEVER: Final = 0
WHEN_TIME: Final = 1
WHEN_POWER_MOVES: Final = 2
WHEN_SPEED_ABOVE: Final = 3
WHEN_SPEED_BELOW: Final = 4
WHEN_HEIGHT_ABOVE: Final = 5
WHEN_HEIGHT_BELOW: Final = 6
WHEN_CLIMB_ABOVE: Final = 7

# Power moves of a procedure: one row each.
M_AT: Final = 0  # s
M_RAMP: Final = 1  # s
M_TARGET: Final = 2
M_SIZE: Final = 3

# Conditions: one row per draw or per cell of a map.
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

# What a cell of a map adds to its draws: one row per cell.
X_DELAY: Final = 0  # s, added to every reaction
X_GEAR_TIME: Final = 1  # factor on gear transit
X_FLAP_TIME: Final = 2  # factor on flap transit
X_SIZE: Final = 3

# Technique: one row per action.
A_DEVICE: Final = 0
A_TARGET: Final = 1  # 0..1, rad, or -1..1
A_WAIT: Final = 2  # s
A_GATE: Final = 3
A_GATE_VALUE: Final = 4  # m/s or m
A_SETTLED: Final = 5  # 1: wait for the device to arrive where it is going
A_HAND: Final = 6  # s
A_SIZE: Final = 7
GEAR: Final = 0
FLAPS: Final = 1
POWER: Final = 2
PITCH: Final = 3
GATE_NONE: Final = 0
GATE_CLIMB: Final = 1
GATE_SPEED: Final = 2
GATE_SPEED_BELOW: Final = 3
GATE_HEIGHT: Final = 4
GATE_HEIGHT_BELOW: Final = 5

_AIMS: Final = {aim: float(k) for k, aim in enumerate(Aim)}
_WHENS: Final = {when: float(k) for k, when in enumerate(When)}
_POWERS: Final = {power: float(k) for k, power in enumerate(StartPower)}
_GATES: Final = {gate: float(k) for k, gate in enumerate(Gate)}
_DEVICES: Final = {Device.GEAR: GEAR, Device.FLAPS: FLAPS, Device.POWER: POWER}
_FAR_M: Final = 1e6


def action_rows(technique: Technique) -> FloatArray:
    """Return the actions of a technique, shape (MAX_ACTIONS, A_SIZE); rows past the last action have no device."""
    rows = np.zeros((MAX_ACTIONS, A_SIZE))
    rows[:, A_DEVICE] = -1.0
    for j, a in enumerate(technique.actions):
        rows[j] = (
            _DEVICES[a.device],
            a.target,
            a.wait_s,
            _GATES[a.gate],
            a.gate_value,
            float(a.when_settled),
            a.hand_s,
        )
    return rows


def technique_rows(techniques: Sequence[Technique]) -> FloatArray:
    """Return several techniques, shape (techniques, MAX_ACTIONS, A_SIZE)."""
    return np.array([action_rows(technique) for technique in techniques]).reshape(-1, MAX_ACTIONS, A_SIZE)


def procedure_row(procedure: Procedure) -> FloatArray:
    """Return a procedure as a row, shape (P_SIZE,)."""
    row, p, ground = np.empty(P_SIZE), procedure, procedure.ground
    row[P_FLAP], row[P_GEAR] = p.start_flap_rad, p.start_gear
    row[P_PATH] = math.nan if p.descent_rad is None else -p.descent_rad
    row[P_POWER], row[P_HANDS_FREE], row[P_DURATION] = _POWERS[p.start_power], p.first_action_s, p.duration_s
    handling = p.handling
    row[P_PITCH_RATE], row[P_PATH_TIME] = handling.pitch_rate_rps, handling.path_time_s
    row[P_SPEED_TIME], row[P_PATH_RATE] = handling.speed_time_s, handling.path_rate_rps
    row[P_LOAD_LOW], row[P_LOAD_HIGH] = handling.load_factor
    row[P_HEIGHT], row[P_RUNWAY] = p.start_height_m, float(ground is not None)
    row[P_WING_HEIGHT] = _FAR_M if ground is None else ground.wing_height_m
    row[P_FRICTION] = 0.0 if ground is None else ground.friction
    row[P_GEAR_LOW], row[P_GEAR_HIGH] = p.travel.gear
    row[P_FLAP_LOW], row[P_FLAP_HIGH] = p.travel.flap_rad
    row[P_DEAD_AREA], row[P_POWER_TRAVEL] = p.dead_area_m2, p.power_travel_s
    row[P_STAGES], row[P_MOVES] = len(p.stages), len(_moves(p))
    row[P_END:] = _condition(p.end)
    return row


def _condition(until: Until) -> tuple[float, float, float]:
    return _WHENS[until.when], until.value, _AIMS[until.aim]


def stage_rows(procedure: Procedure) -> FloatArray:
    """Return the stages of a procedure, shape (MAX_STAGES, L_SIZE)."""
    rows = np.zeros((MAX_STAGES, L_SIZE))
    for j, stage in enumerate(procedure.stages):
        kind = _AIMS[stage.aim]
        mode = MODE_ATTITUDE if kind <= AIM_CLIMB_ATTITUDE else MODE_PATH if kind == AIM_PATH else MODE_SPEED
        rows[j] = (mode, kind, stage.value, *_condition(stage.until))
    return rows


def move_rows(procedure: Procedure) -> FloatArray:
    """Return the power moves of a procedure, shape (2 MAX_POWER_MOVES, M_SIZE); see :func:`_moves`."""
    rows = np.zeros((2 * MAX_POWER_MOVES, M_SIZE))
    moves = _moves(procedure)
    rows[: len(moves)] = np.array(moves).reshape(-1, M_SIZE)
    return rows


def _moves(procedure: Procedure) -> list[tuple[float, float, float]]:
    """Return begin, duration and target of the power moves; one from below zero to above it makes two.

    Thrust has a kink where the lever passes zero, and a step may not lead across it.
    """
    dead = procedure.start_power is StartPower.NONE and procedure.dead_area_m2 > 0.0
    place, going = -1.0 if dead else 0.0, None
    moves: list[tuple[float, float, float]] = []
    for move in procedure.power:
        if going is not None:
            done = (move.at_s - going.at_s) / going.ramp_s if going.ramp_s > 0.0 else 1.0
            place += min(done, 1.0) * (going.target - place)
            moves = [made for made in moves if made[0] <= move.at_s]  # what was to come when the lever turns round
        first = 0.0
        if place < 0.0 < move.target:
            first = move.ramp_s * place / (place - move.target)
            moves.append((move.at_s, first, 0.0))
        moves.append((move.at_s + first, move.ramp_s - first, move.target))
        going = move
    return moves


def entry_is_factor(situation: Situation) -> bool:
    """Return whether the entry speed is a multiple of the stall speed."""
    return situation.entry_speed.reference is EntryReference.VS0
