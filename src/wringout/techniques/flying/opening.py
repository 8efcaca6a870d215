"""Opening and closing a lane: a case at its start, and its scores at its end. Compiled.

Techniques flown on the same draw start alike: what they share is worked out once and kept as a column.
"""

from __future__ import annotations

import math
from typing import Final

from wringout.airplane import vector as v
from wringout.techniques.flying import devices as d
from wringout.techniques.flying import lane_rows as r
from wringout.techniques.flying import layout as k
from wringout.techniques.flying import moments as m
from wringout.techniques.flying import scores as sc
from wringout.techniques.flying.compiling import compiled, inlined
from wringout.techniques.flying.devices import Tables
from wringout.techniques.flying.lane_rows import LANES
from wringout.techniques.flying.lanes import NEVER, measure, pull_again, set_controls
from wringout.techniques.flying.moments import watch
from wringout.techniques.flying.start import S_LIFT_TIME, S_PATH, S_POWER, S_SPEED, S_START_PITCH
from wringout.techniques.stated.types import FloatArray, IntArray

_AT_A_TIME: Final = 16
COLUMN: Final = -(-r.OPENED // LANES // _AT_A_TIME) * _AT_A_TIME
"""Numbers in the column of a start: a few more than there are rows to open, so that they are copied in equal parts."""
_FROM_NOTHING: Final = (sc.LOWEST_HEIGHT, sc.ACTIONS, sc.EXCEEDANCE, sc.CONTACT_SINK, sc.PITCH_DROP)
_FROM_NEVER: Final = (sc.CLIMB_TIME, sc.OBSTACLE_DISTANCE)


@compiled
def open_lane(b: FloatArray, who: IntArray, t: Tables, s: FloatArray, lane: int) -> None:
    """Put the start of a draw into a lane: what stands in the start row, devices at rest, no score yet."""
    a, p = t.rows[who[d.DRAW, lane]], t.procedures[who[d.PROCEDURE, lane]]
    for j in range(S_START_PITCH + 6):  # the fields of the case and what aims are counted in
        b[j * LANES + lane] = s[j]
    b[r.CAS_PER_EAS + lane], b[r.ALPHA_PER_CL + lane] = 1.0 / b[r.EAS_PER_CAS + lane], 1.0 / b[r.LIFT_SLOPE + lane]
    n = r.NEW + lane
    b[r.TIME + n], b[r.SPEED + n], b[r.PATH + n] = 0.0, s[S_SPEED], s[S_PATH]
    b[r.HEIGHT + n], b[r.DISTANCE + n], b[r.DAMPING + lane] = 0.0, 0.0, 1.0 / (s[S_LIFT_TIME] * s[S_SPEED])
    b[r.GEAR_FULL_AREA + lane], b[r.DOORS + lane] = a[v.F_GEAR], 4.0 * a[v.GEAR_BUMP]
    b[r.SHIELD + lane] = a[v.KAPPA] / a[v.ANGLES + int(a[v.SETTINGS]) - 1]
    b[r.CL_CLEAN + lane] = a[v.CL_MAXES]
    b[r.VLE + lane], b[r.VLO + lane] = t.limits[-2], t.limits[-1]
    b[r.DURATION + lane], b[r.FORCED + lane] = p[k.P_DURATION], NEVER
    b[r.QUIET + lane], b[r.SHARP + lane], b[r.UNREST + lane] = 0.0, 0.0, 0.0
    b[r.ROLLING + lane], b[r.CLIMBING_SINCE + lane], b[r.NEXT_SCORE + lane] = 0.0, NEVER, sc.SCORE_TIMES_S[0]
    b[r.PITCH_TOP + lane], b[r.START_SPEED + lane] = s[S_START_PITCH], s[S_SPEED]
    b[r.LOADED + lane], b[r.LOADED_WITHIN + lane], b[r.PITCH_WITHIN + lane] = 0.0, 0.0, s[S_START_PITCH]
    d.rest(b, k.GEAR, lane, p[k.P_GEAR])
    d.rest(b, k.FLAPS, lane, p[k.P_FLAP])
    d.rest(b, k.POWER, lane, s[S_POWER])
    d.rest(b, k.PITCH, lane, s[S_START_PITCH])
    for j in range(d.AT_STAGE, d.WHO_SIZE):
        who[j, lane] = 0
    _begin(b, who, t, lane)


@compiled
def _steady(p: FloatArray, stage: FloatArray) -> bool:
    """Return whether a start is in equilibrium and flown on as it is: nothing is sharp about it."""
    aim, value = stage[k.L_AIM], stage[k.L_VALUE]
    kept: bool = (aim == k.AIM_START_ATTITUDE and value == 0.0) or (aim == k.AIM_ENTRY_SPEED and value == 1.0)
    return kept and p[k.P_POWER] == k.START_BALANCED


@compiled
def _begin(b: FloatArray, who: IntArray, t: Tables, lane: int) -> None:
    """Begin everything that runs from the start, whatever the technique: bracket, stage, first move of power."""
    p = t.procedures[who[d.PROCEDURE, lane]]
    measure(b, lane)
    d.next_bracket(b, t.rows[who[d.DRAW, lane]], t.limits, lane, 0.0)
    m.begin_stage(b, who, t, lane, 0.0)
    if _steady(p, t.stages[who[d.PROCEDURE, lane], 0]):
        b[r.SHARP + lane] = -NEVER
    set_controls(b, r.END, lane, b[r.NEW + r.TIME + lane])
    pull_again(b, lane)
    m.await_move(b, who, t, lane)
    watch(b, r.CONTACT, lane, 0.0, 0.0, 0.0, -1.0)
    if p[k.P_RUNWAY] > 0.0:
        watch(b, r.CONTACT, lane, 0.0, -1.0, 0.0, -p[k.P_HEIGHT])
        if p[k.P_HEIGHT] <= 0.0:
            b[r.ROLLING + lane] = 1.0
            watch(b, r.CONTACT, lane, 0.0, 0.0, 0.0, -1.0)
    end = m.condition(b, r.FINISH, lane, p[k.P_END :], p, NEVER)
    b[r.DURATION + lane] = min(float(b[r.DURATION + lane]), end)
    if b[r.NEW_CLIMB + lane] > sc.CLIMBING_MPS:
        b[r.CLIMBING_SINCE + lane] = 0.0


@compiled
def keep_column(b: FloatArray, lane: int, column: FloatArray) -> None:
    """Keep what a lane holds at its start, shape (COLUMN,)."""
    for j in range(COLUMN):
        column[j] = b[j * LANES + lane]


@inlined
def fill_lane(b: FloatArray, who: IntArray, t: Tables, lane: int, column: FloatArray) -> None:
    """Put a case into a lane: the start of its draw from the column, then what its technique waits for.

    What is due at once is still to be settled.
    """
    for part in range(0, COLUMN, _AT_A_TIME):
        for j in range(part, part + _AT_A_TIME):
            b[j * LANES + lane] = column[j]
    for j in range(d.AT_STAGE, d.WHO_SIZE):
        who[j, lane] = 0
    for j in _FROM_NOTHING:
        b[r.SCORE + j * LANES + lane] = 0.0
    for j in _FROM_NEVER:
        b[r.SCORE + j * LANES + lane] = NEVER
    b[r.EVENT + lane] = m.BY_NOBODY
    m.await_action(b, who, t, lane, t.procedures[who[d.PROCEDURE, lane], k.P_HANDS_FREE])


@inlined
def close_lane(b: FloatArray, lane: int, out: FloatArray) -> None:
    """Write the scores of a finished trajectory; what never came about is infinite, a height after its end NaN."""
    for j in range(sc.SCORE_COUNT):
        out[j] = b[r.SCORE + j * LANES + lane]
    for j in _FROM_NEVER:
        if out[j] >= NEVER:
            out[j] = math.inf
    end = b[r.TIME + lane] + b[r.CLOSE + lane]
    for j in range(len(sc.SCORE_TIMES_S)):
        if end < sc.SCORE_TIMES_S[j]:
            out[sc.HEIGHT + j], out[sc.ENERGY_HEIGHT + j] = math.nan, math.nan
    out[sc.END_TIME], out[sc.END_DISTANCE] = b[r.TIME + lane], b[r.DISTANCE + lane]
    out[sc.STALL_RATIO] = math.sqrt(1.0 / max(float(b[r.LOADED + lane]), _LEAST_LOADED))


_LEAST_LOADED: Final = 1e-3  # of the lift at CLmax; lift below it is as good as none
