"""Moments: what happens to one lane only. Compiled, readable, one lane at a time.

An event within a step (a gate opening, a stage ending, the end of the procedure, wheels touching) makes the lane fly
that step again, shortened to the event; the time is the root of the cubic through both ends of the step.
"""

from __future__ import annotations

import math
from typing import Final

from wringout.airplane import vector as v
from wringout.techniques import lane_rows as r
from wringout.techniques import layout as k
from wringout.techniques import scores as sc
from wringout.techniques.compiling import compiled, inlined
from wringout.techniques.devices import (
    AT_MOVE,
    AT_SCORE,
    AT_STAGE,
    CELL,
    DRAW,
    PENDING,
    PROCEDURE,
    TECHNIQUE,
    Tables,
    move,
    next_bracket,
    rest,
)
from wringout.techniques.lane_rows import LANES
from wringout.techniques.lanes import NEVER, evaluate, place, set_controls, watched
from wringout.techniques.motion import MODE_ATTITUDE
from wringout.techniques.types import MAX_ACTIONS, FloatArray, IntArray
from wringout.units import STANDARD_GRAVITY

_SHORTEST_S: Final = 1e-3  # stands for "at once"
_SCORE_TIMES: Final = sc.SCORE_TIMES_S

BY_NOBODY: Final = 0
BY_GATE: Final = 1
BY_STAGE: Final = 2
BY_FINISH: Final = 3
BY_CONTACT: Final = 4


@compiled
def watch(b: FloatArray, which: int, lane: int, eas: float, height: float, climb: float, one: float) -> None:
    """Set the condition ``eas EAS + height h + climb dh/dt + one``."""
    b[r.OF_EAS + which + lane], b[r.OF_HEIGHT + which + lane] = eas, height
    b[r.OF_CLIMB + which + lane], b[r.OF_ONE + which + lane] = climb, one


@compiled
def aim_value(b: FloatArray, lane: int, aim: int, value: float) -> float:
    """Return an aim as the controls want it: rad, or m/s equivalent."""
    if aim <= k.AIM_CLIMB_ATTITUDE:
        value += b[r.START_PITCH + aim * LANES + lane]
    elif aim < k.AIM_PATH:
        value *= b[r.START_PITCH + aim * LANES + lane]
    return value


@compiled
def condition(b: FloatArray, which: int, lane: int, at: FloatArray, p: FloatArray, first_move: float) -> float:
    """Set a watched condition from three numbers of a table; returns the time that meets it, or never."""
    when, base = int(at[k.W_WHEN]), p[k.P_HEIGHT]
    value: float = at[k.W_VALUE]
    watch(b, which, lane, 0.0, 0.0, 0.0, -1.0)
    if when == k.WHEN_TIME:
        return value
    if when == k.WHEN_POWER_MOVES:
        return first_move
    if when == k.WHEN_SPEED_ABOVE:
        watch(b, which, lane, 1.0, 0.0, 0.0, -aim_value(b, lane, int(at[k.W_AIM]), value))
    elif when == k.WHEN_SPEED_BELOW:
        watch(b, which, lane, -1.0, 0.0, 0.0, aim_value(b, lane, int(at[k.W_AIM]), value))
    elif when == k.WHEN_HEIGHT_ABOVE:
        watch(b, which, lane, 0.0, 1.0, 0.0, base - value)
    elif when == k.WHEN_HEIGHT_BELOW:
        watch(b, which, lane, 0.0, -1.0, 0.0, value - base)
    elif when == k.WHEN_CLIMB_ABOVE:
        watch(b, which, lane, 0.0, 0.0, 1.0, -value)
    return NEVER


@compiled
def begin_stage(b: FloatArray, who: IntArray, t: Tables, lane: int, time: float) -> None:
    """Put the lane's stage of flying into its controls; an attitude is reached by rotating at the pilot's rate."""
    which = who[PROCEDURE, lane]
    p, stage = t.procedures[which], t.stages[which, who[AT_STAGE, lane]]
    b[r.MODE + lane] = stage[k.L_MODE]
    aim = aim_value(b, lane, int(stage[k.L_AIM]), stage[k.L_VALUE])
    b[r.AIM + lane] = aim
    first_move = t.moves[which, 0, k.M_AT] if p[k.P_MOVES] > 0.0 else NEVER
    b[r.UNTIL_TIME + lane] = condition(b, r.STAGE, lane, stage[k.L_UNTIL :], p, first_move)
    b[r.QUIET + lane] = max(b[r.QUIET + lane], time)
    if stage[k.L_MODE] == MODE_ATTITUDE:
        now = pitch_of(b, lane)
        rest(b, k.PITCH, lane, now)
        if abs(aim - now) > 1e-9:
            move(b, k.PITCH, lane, aim, abs(aim - now) / p[k.P_PITCH_RATE], time)


@compiled
def pitch_of(b: FloatArray, lane: int) -> float:
    """Return the pitch attitude at the lane's new node, rad, from its path, lift and lift line (free air)."""
    slope = b[r.LIFT_SLOPE + lane]
    share = b[r.ASKED + r.NEW + lane] / b[r.MOST + r.NEW + lane]
    alpha: float = (share * b[r.CL_MAX + r.END + lane] - b[r.SHIFT + r.END + lane]) / slope
    alpha += b[r.PATH + r.NEW + lane]
    return alpha


@compiled
def await_action(b: FloatArray, who: IntArray, t: Tables, lane: int, since: float) -> None:
    """Set when the next action may be made at the earliest, and the gate it waits for."""
    pending = who[PENDING, lane]
    b[r.EARLIEST + lane] = NEVER
    watch(b, r.GATE, lane, 0.0, 0.0, 0.0, 1.0)
    if pending >= MAX_ACTIONS:
        return
    action = t.actions[who[TECHNIQUE, lane], pending]
    if action[k.A_DEVICE] < 0.0:
        return
    delay = t.reactions[who[DRAW, lane], pending] + t.extras[who[CELL, lane], k.X_DELAY]
    time = since + action[k.A_WAIT] + max(delay, 0.0)
    if action[k.A_SETTLED] > 0.0:
        time = max(time, b[r.ARRIVES + int(action[k.A_DEVICE]) * r.DEVICE + lane])
    b[r.EARLIEST + lane] = time
    gate, value, base = int(action[k.A_GATE]), action[k.A_GATE_VALUE], t.procedures[who[PROCEDURE, lane], k.P_HEIGHT]
    if gate == k.GATE_CLIMB:
        watch(b, r.GATE, lane, 0.0, 0.0, 1.0, -value)
    elif gate == k.GATE_SPEED:
        watch(b, r.GATE, lane, 1.0, 0.0, 0.0, -value * b[r.EAS_PER_CAS + lane])
    elif gate == k.GATE_SPEED_BELOW:
        watch(b, r.GATE, lane, -1.0, 0.0, 0.0, value * b[r.EAS_PER_CAS + lane])
    elif gate == k.GATE_HEIGHT:
        watch(b, r.GATE, lane, 0.0, 1.0, 0.0, base - value)
    elif gate == k.GATE_HEIGHT_BELOW:
        watch(b, r.GATE, lane, 0.0, -1.0, 0.0, value - base)


@compiled
def act(b: FloatArray, who: IntArray, t: Tables, lane: int, time: float, made: FloatArray) -> None:
    """Make the pending action: the device starts towards its target, as far as its travel goes."""
    draw, cell, pending = who[DRAW, lane], who[CELL, lane], who[PENDING, lane]
    a, p = t.rows[draw], t.procedures[who[PROCEDURE, lane]]
    action = t.actions[who[TECHNIQUE, lane], pending]
    device, target = int(action[k.A_DEVICE]), action[k.A_TARGET]
    now = float(place(b, device, lane, b[r.TIME + r.NEW + lane]))
    if device == k.GEAR:
        target = min(max(target, p[k.P_GEAR_LOW]), p[k.P_GEAR_HIGH])
        full = a[v.GEAR_UP_TIME] if target < now else a[v.GEAR_DOWN_TIME]
        move(b, device, lane, target, abs(target - now) * full * t.extras[cell, k.X_GEAR_TIME], time)
    elif device == k.FLAPS:
        target = min(max(target, p[k.P_FLAP_LOW]), p[k.P_FLAP_HIGH])
        full = a[v.FLAP_UP_TIME] if target < now else a[v.FLAP_DOWN_TIME]
        travel = abs(target - now) / a[v.ANGLES + int(a[v.SETTINGS]) - 1]
        move(b, device, lane, target, travel * full * t.extras[cell, k.X_FLAP_TIME], time)
        next_bracket(b, who, t, lane, time)
    else:
        move(b, device, lane, target, abs(target - now) * p[k.P_POWER_TRAVEL], time)
    if pending < len(made):
        made[pending] = time
    if time <= sc.FIRST_SECONDS_S:
        b[r.SCORE + sc.ACTIONS * LANES + lane] += 1.0
    who[PENDING, lane] = pending + 1
    await_action(b, who, t, lane, time + action[k.A_HAND])


@compiled
def await_move(b: FloatArray, who: IntArray, t: Tables, lane: int) -> None:
    """Set when power next moves by the clock."""
    which, at = who[PROCEDURE, lane], who[AT_MOVE, lane]
    b[r.NEXT_MOVE + lane] = t.moves[which, at, k.M_AT] if at < t.procedures[which, k.P_MOVES] else NEVER


@compiled
def next_score(b: FloatArray, who: IntArray, lane: int) -> None:
    """Set the next score time."""
    at = who[AT_SCORE, lane]
    b[r.NEXT_SCORE + lane] = _SCORE_TIMES[at] if at < len(_SCORE_TIMES) else NEVER


@compiled
def crossing(b: FloatArray, which: int, lane: int) -> float:
    """Return where in the step, 0 to 1, a watched quantity rises through zero: by the cubic through both its ends.

    2 where it does not.
    """
    w0, w1 = float(watched(b, which, 0, lane)), float(watched(b, which, r.NEW, lane))
    if not (w0 < 0.0 <= w1):
        return 2.0
    dt = float(b[r.STEP + lane])
    return float(
        sc.rise_through(0.0, w0, w1, dt * watched_rate(b, which, 0, lane), dt * watched_rate(b, which, r.NEW, lane))
    )


@compiled
def watched_rate(b: FloatArray, which: int, node: int, lane: int) -> float:
    """Return the rate of a watched quantity at a node, 1/s."""
    i, j = which + lane, node + lane
    path, speed = float(b[r.PATH + j]), float(b[r.SPEED + j])
    climb_rate = b[r.SPEED_RATE + j] * math.sin(path) + speed * math.cos(path) * b[r.PATH_RATE + j]
    eas_rate = b[r.EAS + j] / speed * b[r.SPEED_RATE + j]
    return float(b[r.OF_EAS + i] * eas_rate + b[r.OF_HEIGHT + i] * b[r.CLIMB + j] + b[r.OF_CLIMB + i] * climb_rate)


@compiled
def event_inside(b: FloatArray, lane: int) -> bool:
    """Return whether the step holds an event short of its end; then the lane is told to fly to it and no further."""
    dt, close = float(b[r.STEP + lane]), float(b[r.CLOSE + lane])
    if b[r.TIME + r.NEW + lane] >= b[r.FORCED + lane] - close:
        return False
    first, by = 2.0, BY_NOBODY
    for event, which in ((BY_STAGE, r.STAGE), (BY_FINISH, r.FINISH), (BY_CONTACT, r.CONTACT), (BY_GATE, r.GATE)):
        if event != BY_GATE or b[r.TIME + lane] >= b[r.EARLIEST + lane] - close:
            x = crossing(b, which, lane)
            if x < first:
                first, by = x, event
    if by == BY_NOBODY:
        x0, x1 = b[r.MOST + lane] - b[r.ASKED + lane], b[r.MOST + r.NEW + lane] - b[r.ASKED + r.NEW + lane]
        if (x0 < 0.0) != (x1 < 0.0) and dt > 0.06:
            first = min(max(x0 / (x0 - x1), 0.04 / dt), 1.0 - 0.04 / dt)
    if first * dt > dt - 2.0 * close:
        return False
    b[r.FORCED + lane] = b[r.TIME + lane] + max(first * dt, 3.0 * close)
    b[r.FORCED_BY + lane] = by
    b[r.ACCEPT + lane] = 0.0
    return True


@compiled
def end_climb(b: FloatArray, lane: int, after: float) -> None:
    """End a climb so many seconds into the step; one that lasted long enough until then counts."""
    since, found = b[r.CLIMBING_SINCE + lane], r.SCORE + sc.CLIMB_TIME * LANES + lane
    if b[found] >= NEVER and b[r.TIME + lane] + after - since >= sc.SUSTAINED_S:
        b[found] = since
    b[r.CLIMBING_SINCE + lane] = NEVER


@compiled
def score_step(b: FloatArray, lane: int) -> None:
    """Note what happened within an accepted step: the lowest point, the beginning of a climb, the obstacle cleared."""
    dt = float(b[r.STEP + lane])
    h0, h1 = float(b[r.HEIGHT + lane]), float(b[r.HEIGHT + r.NEW + lane])
    d0, d1 = dt * b[r.CLIMB + lane], dt * b[r.CLIMB + r.NEW + lane]
    lowest = r.SCORE + sc.LOWEST_HEIGHT * LANES + lane
    if d0 < 0.0 < d1:
        x = sc.turning_point(h0, h1, d0, d1)
        b[lowest] = min(float(b[lowest]), sc.cubic_at(x, h0, h1, d0, d1))
    # the same cubic seen from an airplane that climbs at the threshold: where it turns, the threshold is passed
    slow = dt * sc.CLIMBING_MPS
    if d0 < slow < d1:
        b[r.CLIMBING_SINCE + lane] = b[r.TIME + lane] + dt * sc.turning_point(h0, h1 - slow, d0 - slow, d1 - slow)
    elif d1 <= slow:
        end_climb(b, lane, dt * sc.turning_point(h0, h1 - slow, d0 - slow, d1 - slow) if d0 > slow else 0.0)
    cleared = r.SCORE + sc.OBSTACLE_DISTANCE * LANES + lane
    if b[cleared] >= NEVER and h0 < sc.OBSTACLE_M <= h1:
        x = sc.rise_through(sc.OBSTACLE_M, h0, h1, d0, d1)
        x0, x1 = float(b[r.DISTANCE + lane]), float(b[r.DISTANCE + r.NEW + lane])
        b[cleared] = sc.cubic_at(x, x0, x1, dt * b[r.ALONG + lane], dt * b[r.ALONG + r.NEW + lane])


@inlined
def note_score_time(b: FloatArray, who: IntArray, lane: int) -> None:
    """Note height and energy height at a score time."""
    at, speed = who[AT_SCORE, lane], float(b[r.SPEED + r.NEW + lane])
    height, first = float(b[r.HEIGHT + r.NEW + lane]), float(b[r.START_SPEED + lane])
    b[r.SCORE + (sc.HEIGHT + at) * LANES + lane] = height
    gained = (speed - first) * (speed + first) / (2.0 * STANDARD_GRAVITY)
    b[r.SCORE + (sc.ENERGY_HEIGHT + at) * LANES + lane] = height + gained
    who[AT_SCORE, lane] = at + 1
    next_score(b, who, lane)


@compiled
def touch(b: FloatArray, lane: int) -> None:
    """Put the wheels on the runway: the sink is noted, the path becomes level, and the airplane rolls."""
    sink = r.SCORE + sc.CONTACT_SINK * LANES + lane
    b[sink] = max(float(b[sink]), -float(b[r.CLIMB + r.NEW + lane]))
    b[r.PATH + r.NEW + lane] = 0.0
    b[r.ROLLING + lane] = 1.0
    watch(b, r.CONTACT, lane, 0.0, 0.0, 0.0, -1.0)


@compiled
def leave_ground(b: FloatArray, lane: int, base: float) -> bool:
    """Return whether the airplane has just left the runway; then contact is watched for again."""
    if b[r.ROLLING + lane] > 0.0 and b[r.HEIGHT + r.NEW + lane] > 0.02 - base:
        b[r.ROLLING + lane] = 0.0
        watch(b, r.CONTACT, lane, 0.0, -1.0, 0.0, -base)
        return True
    return False


@inlined
def due(b: FloatArray, lane: int) -> bool:
    """Return whether anything but a score is due at the new node."""
    soon = b[r.TIME + r.NEW + lane] + b[r.CLOSE + lane]
    planned = soon >= min(
        min(b[r.FORCED + lane], b[r.NEXT_MOVE + lane]), min(b[r.PASSES + lane], b[r.UNTIL_TIME + lane])
    )
    acting = soon >= b[r.EARLIEST + lane] and watched(b, r.GATE, r.NEW, lane) >= 0.0
    staged = watched(b, r.STAGE, r.NEW, lane) >= 0.0 or watched(b, r.CONTACT, r.NEW, lane) >= 0.0
    return bool(planned or acting or staged or b[r.ROLLING + lane] > 0.0)


@compiled
def settle(b: FloatArray, who: IntArray, t: Tables, lane: int, made: FloatArray) -> bool:
    """Do all that is due at the new node; returns whether the forces jumped."""
    time, close = float(b[r.TIME + r.NEW + lane]), float(b[r.CLOSE + lane])
    forced = int(b[r.FORCED_BY + lane]) if time >= b[r.FORCED + lane] - close else BY_NOBODY
    if time >= b[r.FORCED + lane] - close:
        b[r.FORCED + lane], b[r.FORCED_BY + lane] = NEVER, BY_NOBODY
    p, jumped = t.procedures[who[PROCEDURE, lane]], False
    if forced == BY_CONTACT or watched(b, r.CONTACT, r.NEW, lane) >= 0.0:
        touch(b, lane)
        jumped = True
    jumped |= leave_ground(b, lane, p[k.P_HEIGHT])
    if time >= b[r.PASSES + lane] - close:
        next_bracket(b, who, t, lane, float(b[r.PASSES + lane]))
    while time >= b[r.NEXT_MOVE + lane] - close:
        row = t.moves[who[PROCEDURE, lane], who[AT_MOVE, lane]]
        move(b, k.POWER, lane, row[k.M_TARGET], row[k.M_RAMP], float(b[r.NEXT_MOVE + lane]))
        who[AT_MOVE, lane] += 1
        await_move(b, who, t, lane)
    while time >= b[r.EARLIEST + lane] - close and (forced == BY_GATE or watched(b, r.GATE, r.NEW, lane) >= 0.0):
        act(b, who, t, lane, time, made)
        forced = BY_NOBODY
    if jumped:
        evaluate(b, lane)
    last = int(p[k.P_STAGES]) - 1
    while who[AT_STAGE, lane] < last and (
        forced == BY_STAGE or time >= b[r.UNTIL_TIME + lane] - close or watched(b, r.STAGE, r.NEW, lane) >= 0.0
    ):
        forced, jumped = BY_NOBODY, True
        who[AT_STAGE, lane] += 1
        begin_stage(b, who, t, lane, time)
        set_controls(b, r.END, lane, b[r.TIME + r.NEW + lane])
        evaluate(b, lane)
    if who[AT_STAGE, lane] == last:
        b[r.UNTIL_TIME + lane] = NEVER
    if forced == BY_FINISH:
        b[r.DURATION + lane] = b[r.TIME + r.NEW + lane]
    return jumped


@inlined
def finished(b: FloatArray, lane: int) -> bool:
    """Return whether the procedure is over at the new node."""
    late = b[r.TIME + r.NEW + lane] >= b[r.DURATION + lane] - b[r.CLOSE + lane]
    return bool(late or watched(b, r.FINISH, r.NEW, lane) >= 0.0)
