"""Moments: what happens to one lane only. Compiled, readable, one lane at a time.

An event within a step (a gate opening, a stage ending, the end of the procedure, wheels touching) ends the step of that
lane there: the moment is the root of the cubic through both ends of the step, the state that of the cubics. Only the
kink where lift meets CLmax makes a lane fly its step again, shorter: what was flown across it is not good enough.
"""

from __future__ import annotations

from typing import Final

from wringout.airplane import vector as v
from wringout.techniques.flying import lane_rows as r
from wringout.techniques.flying import layout as k
from wringout.techniques.flying import scores as sc
from wringout.techniques.flying.compiling import compiled, inlined
from wringout.techniques.flying.devices import (
    AT_MOVE,
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
from wringout.techniques.flying.lane_rows import LANES
from wringout.techniques.flying.lanes import (
    NEVER,
    SHORT_S,
    hermite,
    measure,
    place,
    pull_again,
    reached,
    set_controls,
    within,
)
from wringout.techniques.flying.motion import MODE_ATTITUDE, Case
from wringout.techniques.stated.types import MAX_ACTIONS, FloatArray, IntArray

_SAME_PITCH: Final = 1e-9  # rad; attitudes nearer than this are one
_NO_LONGER_ROLLING_M: Final = 0.02  # wheels higher than this have left the runway
_NOT_IN_IT: Final = 2.0  # where an event is that a step does not have; from 0 to 1 it is in it
_NEAR_S: Final = 0.2  # an event so near to an end of its step is where the cubics say
_BEYOND_S: Final = 0.05  # a step that is flown again to end at an event ends so much later
_KINK_ROOM: Final = 2.0 / 3.0  # a step that ends at the kink lands within this share of what may be flown across it

_TOUCHING_M: Final = 1e-3  # a procedure that ends so near the runway ends on it
_RUNNING: Final = 1e-6  # of full power: an engine gives so much once it runs

BY_NOBODY: Final = 0
BY_GATE: Final = 1
BY_STAGE: Final = 2
BY_FINISH: Final = 3
BY_CONTACT: Final = 4


@inlined
def watch(b: FloatArray, which: int, lane: int, eas: float, height: float, climb: float, one: float) -> None:
    """Set the condition ``eas EAS + height h + climb dh/dt + one``."""
    b[r.OF_EAS + which + lane], b[r.OF_HEIGHT + which + lane] = eas, height
    b[r.OF_CLIMB + which + lane], b[r.OF_ONE + which + lane] = climb, one


@inlined
def aim_value(b: FloatArray, lane: int, aim: int, value: float) -> float:
    """Return an aim as the controls want it: rad, or m/s equivalent."""
    if aim <= k.AIM_CLIMB_ATTITUDE:
        value += b[r.START_PITCH + aim * LANES + lane]
    elif aim < k.AIM_PATH:
        value *= b[r.START_PITCH + aim * LANES + lane]
    return value


@inlined
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


@inlined
def begin_stage(b: FloatArray, who: IntArray, t: Tables, lane: int, time: float) -> None:
    """Put the lane's stage of flying into its controls; an attitude is reached by rotating at the pilot's rate."""
    which = who[PROCEDURE, lane]
    p, stage = t.procedures[which], t.stages[which, who[AT_STAGE, lane]]
    b[r.MODE + lane] = stage[k.L_MODE]
    aim = aim_value(b, lane, int(stage[k.L_AIM]), stage[k.L_VALUE])
    b[r.AIM + lane] = aim
    first_move = t.moves[which, 0, k.M_AT] if p[k.P_MOVES] > 0.0 else NEVER
    until = condition(b, r.STAGE, lane, stage[k.L_UNTIL :], p, first_move)
    b[r.UNTIL_TIME + lane] = until if who[AT_STAGE, lane] < int(p[k.P_STAGES]) - 1 else NEVER
    b[r.QUIET + lane], b[r.SHARP + lane] = max(b[r.QUIET + lane], time), time
    if stage[k.L_MODE] == MODE_ATTITUDE:
        now = float(place(b, k.PITCH, lane, time))
        rest(b, k.PITCH, lane, now)
        if abs(aim - now) > _SAME_PITCH:
            move(b, k.PITCH, lane, aim, abs(aim - now) / p[k.P_PITCH_RATE], time)


@inlined
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


@inlined
def act(b: FloatArray, who: IntArray, t: Tables, lane: int, time: float, made: FloatArray) -> None:
    """Make the pending action: the device starts towards its target, as far as its travel goes."""
    draw, cell, pending = who[DRAW, lane], who[CELL, lane], who[PENDING, lane]
    a, p = t.rows[draw], t.procedures[who[PROCEDURE, lane]]
    action = t.actions[who[TECHNIQUE, lane], pending]
    device, target = int(action[k.A_DEVICE]), action[k.A_TARGET]
    now = float(place(b, device, lane, b[r.NEW + r.TIME + lane]))
    if device == k.GEAR:
        target = min(max(target, p[k.P_GEAR_LOW]), p[k.P_GEAR_HIGH])
        full = a[v.GEAR_UP_TIME] if target < now else a[v.GEAR_DOWN_TIME]
        full *= t.extras[cell, k.X_GEAR_TIME]
    elif device == k.FLAPS:
        target = min(max(target, p[k.P_FLAP_LOW]), p[k.P_FLAP_HIGH])
        full = a[v.FLAP_UP_TIME] if target < now else a[v.FLAP_DOWN_TIME]
        full *= t.extras[cell, k.X_FLAP_TIME] / a[v.ANGLES + int(a[v.SETTINGS]) - 1]
    else:
        full = p[k.P_POWER_TRAVEL]
    move(b, device, lane, target, abs(target - now) * full, time)
    if device == k.FLAPS:
        next_bracket(b, a, t.limits, lane, time)
    if pending < len(made):
        made[pending] = time
    if time <= sc.FIRST_SECONDS_S:
        b[r.SCORE + sc.ACTIONS * LANES + lane] += 1.0
    who[PENDING, lane] = pending + 1
    await_action(b, who, t, lane, time + action[k.A_HAND])


@inlined
def await_move(b: FloatArray, who: IntArray, t: Tables, lane: int) -> None:
    """Set when power next moves by the clock."""
    which, at = who[PROCEDURE, lane], who[AT_MOVE, lane]
    b[r.NEXT_MOVE + lane] = t.moves[which, at, k.M_AT] if at < t.procedures[which, k.P_MOVES] else NEVER


@inlined
def watched_rate(b: FloatArray, which: int, node: int, lane: int) -> float:
    """Return the rate of a watched quantity at the start of a step or (``r.LAST``) at its end, 1/s."""
    i, j, n = which + lane, node + lane, lane + (r.NEW if node == r.LAST else 0)
    per_speed, climb = 1.0 / float(b[r.SPEED + n]), float(b[r.CLIMB + j])
    climb_rate = b[r.SPEED_RATE + j] * climb * per_speed + b[r.ALONG + j] * b[r.PATH_RATE + j]
    thinner = 0.5 * b[_DENSITY_1 + lane] * climb  # half the relative rate of density
    eas_rate = b[r.EAS + n] * (b[r.SPEED_RATE + j] * per_speed + thinner)
    return float(b[r.OF_EAS + i] * eas_rate + b[r.OF_HEIGHT + i] * climb + b[r.OF_CLIMB + i] * climb_rate)


@inlined
def crossing(b: FloatArray, which: int, lane: int) -> float:
    """Return where in the step, 0 to 1, a watched quantity rises through zero: by the cubic through both its ends.

    It may have fallen again at the end of the step. 2 where it does not rise through zero.
    """
    i = which + lane
    w0, w1 = (
        float(b[r.OF_EAS + i] * b[r.EAS + lane] + b[r.OF_HEIGHT + i] * b[r.HEIGHT + lane]),
        float(reached(b, which, lane)),
    )
    w0 += float(b[r.OF_CLIMB + i] * b[r.CLIMB + lane] + b[r.OF_ONE + i])
    if w0 >= 0.0 or w0 == w1:  # met before, or nothing is watched
        return _NOT_IN_IT
    dt = float(b[r.STEP + lane])
    before, after = dt * watched_rate(b, which, 0, lane), dt * watched_rate(b, which, r.LAST, lane)
    if w1 >= 0.0:
        return float(sc.rise_through(0.0, w0, w1, before, after))
    if before > 0.0 > after:
        top = float(sc.turning_point(w0, w1, before, after))
        peak = float(hermite(top, w0, w1, before, after))
        if peak >= 0.0:  # the same cubic, up to its peak
            return top * float(sc.rise_through(0.0, w0, peak, top * before, 0.0))
    return _NOT_IN_IT


@compiled
def end_step(b: FloatArray, lane: int, x: float) -> None:
    """End a lane's step at a share x of it: the state there is that of the cubics through both ends."""
    real = type(b[0])
    dt, part = b[r.STEP + lane], real(x)
    for j in range(1, r.STATES + 1):
        b[r.NEW + r.TIME + j * LANES + lane] = within(b, j, lane, part)
    b[r.STEP + lane] = part * dt
    b[r.NEW + r.TIME + lane] = b[r.TIME + lane] + part * dt
    b[r.LOADED_WITHIN + lane], b[r.PITCH_WITHIN + lane] = 0.0, b[r.PITCH_TOP + lane]
    set_controls(b, r.END, lane, b[r.NEW + r.TIME + lane])
    pull_again(b, lane)
    measure(b, lane)


@inlined
def look_inside(b: FloatArray, lane: int) -> None:
    """End the lane's step at the first event in it, or undo it, to end just beyond the event the next time.

    It is undone where lift met CLmax, and where the event is far from both ends: within a long step the cubics do not
    say well enough when it was.
    """
    close, dt = float(b[r.CLOSE + lane]), float(b[r.STEP + lane])
    first, by = _NOT_IN_IT, BY_NOBODY
    for event, which in ((BY_STAGE, r.STAGE), (BY_FINISH, r.FINISH), (BY_CONTACT, r.CONTACT), (BY_GATE, r.GATE)):
        if event != BY_GATE or b[r.TIME + lane] >= b[r.EARLIEST + lane] - close:
            x = crossing(b, which, lane)
            if x < first:
                first, by = x, event
    x0, x1 = float(b[r.CAPPED + lane]), float(b[r.CAPPED_LATER + lane])
    if (x0 < 0.0) != (x1 < 0.0) and dt > SHORT_S:
        room = _KINK_ROOM * SHORT_S / dt
        kink = min(max(x0 / (x0 - x1), room), 1.0 - room)
        if kink < first:
            b[r.FORCED + lane] = b[r.TIME + lane] + kink * dt
            end_step(b, lane, 0.0)
            return
    if by != BY_NOBODY:
        if min(first, 1.0 - first) * dt > _NEAR_S:
            b[r.FORCED + lane] = b[r.TIME + lane] + first * dt + _BEYOND_S
            end_step(b, lane, 0.0)
            return
        b[r.EVENT + lane], b[r.FORCED + lane] = by, NEVER
        end_step(b, lane, first)


@inlined
def clear_obstacle(b: FloatArray, lane: int) -> None:
    """Note the distance at which an accepted step first rises through the height of the obstacle."""
    cleared = r.SCORE + sc.OBSTACLE_DISTANCE * LANES + lane
    if b[cleared] < NEVER:
        return
    dt, h0, h1 = float(b[r.STEP + lane]), float(b[r.HEIGHT + lane]), float(b[r.NEW + r.HEIGHT + lane])
    d0, d1 = dt * float(b[r.CLIMB + lane]), dt * float(b[r.LAST + r.CLIMB + lane])
    b[cleared] = within(b, 4, lane, type(b[0])(sc.rise_through(sc.OBSTACLE_M, h0, h1, d0, d1)))


@inlined
def touch(b: FloatArray, lane: int) -> None:
    """Put the wheels on the runway: the sink is noted, the path becomes level, and the airplane rolls."""
    sink = r.SCORE + sc.CONTACT_SINK * LANES + lane
    b[sink] = max(float(b[sink]), -float(b[r.NEW_CLIMB + lane]))
    b[r.NEW + r.PATH + lane] = 0.0
    measure(b, lane)
    b[r.ROLLING + lane] = 1.0
    watch(b, r.CONTACT, lane, 0.0, 0.0, 0.0, -1.0)


@inlined
def leave_ground(b: FloatArray, lane: int, base: float) -> bool:
    """Return whether the airplane has just left the runway; then contact is watched for again."""
    if b[r.ROLLING + lane] > 0.0 and b[r.NEW + r.HEIGHT + lane] > _NO_LONGER_ROLLING_M - base:
        b[r.ROLLING + lane] = 0.0
        watch(b, r.CONTACT, lane, 0.0, -1.0, 0.0, -base)
        return True
    return False


@compiled
def start_engine(b: FloatArray, lane: int) -> bool:
    """Let an engine that gave nothing run: a propeller of fixed pitch pulls at once; returns that the forces jump."""
    b[r.FROM + k.POWER * r.DEVICE + lane] = max(b[r.FROM + k.POWER * r.DEVICE + lane], _RUNNING)
    set_controls(b, r.END, lane, b[r.NEW + r.TIME + lane])
    pull_again(b, lane)
    return True


@inlined
def settle(b: FloatArray, who: IntArray, t: Tables, lane: int, made: FloatArray) -> bool:
    """Do all that is due at the new node; returns whether the forces jumped."""
    time, close, event = float(b[r.NEW + r.TIME + lane]), float(b[r.CLOSE + lane]), int(b[r.EVENT + lane])
    p, jumped = t.procedures[who[PROCEDURE, lane]], False
    if event == BY_CONTACT or reached(b, r.CONTACT, lane) >= (-_TOUCHING_M if event == BY_FINISH else 0.0):
        touch(b, lane)
        jumped = True
    jumped |= leave_ground(b, lane, p[k.P_HEIGHT])
    if time >= b[r.PASSES + lane] - close:
        next_bracket(b, t.rows[who[DRAW, lane]], t.limits, lane, float(b[r.PASSES + lane]))
    while time >= b[r.NEXT_MOVE + lane] - close:
        row = t.moves[who[PROCEDURE, lane], who[AT_MOVE, lane]]
        move(b, k.POWER, lane, row[k.M_TARGET], row[k.M_RAMP], float(b[r.NEXT_MOVE + lane]))
        if b[_START_POWER + lane] <= 0.0 and row[k.M_TARGET] > 0.0:
            jumped = start_engine(b, lane)
        b[r.SHARP + lane] = time
        who[AT_MOVE, lane] += 1
        await_move(b, who, t, lane)
    while time >= b[r.EARLIEST + lane] - close and (event == BY_GATE or reached(b, r.GATE, lane) >= 0.0):
        act(b, who, t, lane, time, made)
        event = BY_NOBODY
    last = int(p[k.P_STAGES]) - 1
    while who[AT_STAGE, lane] < last and (
        event == BY_STAGE or time >= b[r.UNTIL_TIME + lane] - close or reached(b, r.STAGE, lane) >= 0.0
    ):
        event, jumped = BY_NOBODY, True
        who[AT_STAGE, lane] += 1
        begin_stage(b, who, t, lane, time)
    if jumped:
        set_controls(b, r.END, lane, b[r.NEW + r.TIME + lane])
    if event == BY_FINISH or reached(b, r.FINISH, lane) >= 0.0:
        b[r.DURATION + lane] = b[r.NEW + r.TIME + lane]
    return jumped


_START_POWER: Final = Case._fields.index("start_power") * LANES
_DENSITY_1: Final = Case._fields.index("density_1") * LANES
