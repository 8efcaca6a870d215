"""The kernel: a range of cases, flown in lanes, to scores. Compiled.

A case is a number; procedure, cell of a map, draw and technique are decoded from it here, so memory does not grow with
the number of cases. A lane that has finished takes the next case at once. Each lane's arithmetic is its own, so the
same case gives the same bits whatever range, thread or lane it is flown in.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from wringout.techniques.flying import devices as d
from wringout.techniques.flying import lane_rows as r
from wringout.techniques.flying import layout as k
from wringout.techniques.flying import moments as m
from wringout.techniques.flying.compiling import compiled, inlined, lowest_bit
from wringout.techniques.flying.devices import Tables
from wringout.techniques.flying.lane_rows import LANES
from wringout.techniques.flying.lanes import (
    DUE,
    NEVER,
    OVER,
    flagged,
    now_at,
    plan,
    score,
    set_controls,
    watch_lanes,
    within,
)
from wringout.techniques.flying.motion import MODE_ATTITUDE, rates, thrust_at
from wringout.techniques.flying.opening import COLUMN, close_lane, fill_lane, keep_column, open_lane
from wringout.techniques.flying.pace import Pace
from wringout.techniques.flying.start import S_SIZE, case_at, prepare
from wringout.techniques.flying.stepping import step
from wringout.techniques.stated.types import FloatArray, IntArray

NOBODY: Final = -1  # no case

NODE_TIME: Final = 0
NODE_STATE: Final = 1  # speed, path, height, distance
NODE_CLIMB: Final = 5
NODE_LIFT: Final = 6
NODE_MOST: Final = 7
NODE_ASKED: Final = 8
NODE_THRUST: Final = 9
NODE_DRAG: Final = 10
NODE_GEAR: Final = 11
NODE_FLAP: Final = 12
NODE_POWER: Final = 13
NODE_SHIFT: Final = 14
NODE_CL_MAX: Final = 15
NODE_ROLLING: Final = 16
NODE_SIZE: Final = 17


@inlined
def decode(shape: IntArray, case: int, who: IntArray, lane: int) -> None:
    """Take a case number apart: ``((procedure * cells + cell) * draws + draw) * techniques + technique``.

    A shape with 0 cells means that each draw has conditions of its own.
    """
    cells, draws, techniques = shape[1], shape[2], shape[3]
    who[d.INDEX, lane] = case
    who[d.TECHNIQUE, lane] = case % techniques
    case //= techniques
    who[d.DRAW, lane] = case % draws
    case //= draws
    who[d.CELL, lane] = case % cells if cells > 0 else who[d.DRAW, lane]
    who[d.PROCEDURE, lane] = case // cells if cells > 0 else case


@compiled
def _open(b: FloatArray, who: IntArray, t: Tables, lane: int, start: FloatArray, column: FloatArray) -> None:
    """Work out the start of a lane's draw in its cell and procedure, and keep what the lane holds there as a column."""
    draw, cell, which = who[d.DRAW, lane], who[d.CELL, lane], who[d.PROCEDURE, lane]
    prepare(t.rows[draw], t.procedures[which], t.conditions[cell], start)
    open_lane(b, who, t, start, lane)
    keep_column(b, lane, column)


@inlined
def _another(who: IntArray, lane: int, shared: IntArray) -> bool:
    """Return whether a lane's case starts otherwise than the one before, and remember how: draw, cell, procedure."""
    draw, cell, which = who[d.DRAW, lane], who[d.CELL, lane], who[d.PROCEDURE, lane]
    other: bool = (draw != shared[0]) | (cell != shared[1]) | (which != shared[2])
    shared[0], shared[1], shared[2] = draw, cell, which
    return other


@inlined
def _stand_still(b: FloatArray, who: IntArray, lane: int) -> None:
    """Let a lane fly no case: its time is up, and nothing comes."""
    who[d.INDEX, lane] = NOBODY
    b[r.DURATION + lane], b[r.EARLIEST + lane], b[r.NEXT_MOVE + lane] = 0.0, NEVER, NEVER


@compiled
def _note(b: FloatArray, when: int, trace: FloatArray, count: int) -> int:
    """Write a node of lane 0 into the trace: the new one (``r.END``) or that of the stage (``r.MIDDLE``).

    Returns how many nodes there are now.
    """
    if count >= len(trace):
        return count
    now, case, row = now_at(b, when, 0), case_at(b, 0, LANES), trace[count]
    if when == r.END:
        time, speed, path = b[r.NEW + r.TIME], b[r.NEW + r.SPEED], b[r.NEW + r.PATH]
        height, distance, pull = b[r.NEW + r.HEIGHT], b[r.NEW + r.DISTANCE], b[r.NEW + r.PULL]
    else:
        time, speed, path = b[r.STAGE_TIME], b[r.STAGE_SPEED], b[r.STAGE_PATH]
        height, distance = b[r.STAGE_HEIGHT], b[r.STAGE_DISTANCE]
        pull = thrust_at(case, now.power, speed, height).thrust
    found = rates(case, now, speed, path, height, pull, True, True, True)
    row[NODE_TIME], row[NODE_STATE] = time, speed
    row[NODE_STATE + 1], row[NODE_STATE + 2], row[NODE_STATE + 3] = path, height, distance
    row[NODE_CLIMB], row[NODE_LIFT], row[NODE_MOST] = found.climb, found.lift, found.most
    row[NODE_ASKED], row[NODE_THRUST], row[NODE_DRAG] = found.asked, found.thrust, found.drag
    row[NODE_GEAR], row[NODE_FLAP], row[NODE_POWER] = b[r.GEAR_AT + when], b[r.FLAP_AT + when], now.power
    row[NODE_SHIFT], row[NODE_CL_MAX], row[NODE_ROLLING] = now.shift, now.cl_max, now.rolling
    return count + 1


@compiled
def _note_within(b: FloatArray, time: float, trace: FloatArray, count: int) -> int:
    """Write the node of lane 0 at a time within its step; returns how many nodes there are now."""
    x = (time - b[r.TIME]) / max(b[r.STEP], b[r.CLOSE])
    if not (0.0 < x < 1.0 and abs(time - b[r.NEW + r.TIME]) > b[r.CLOSE]):
        return count
    b[r.STAGE_TIME] = time
    for j in range(1, r.STATES + 1):  # speed, path, height, distance
        b[r.STAGE_TIME + j * LANES] = within(b, j, 0, x)
    set_controls(b, r.MIDDLE, 0, time)
    return _note(b, r.MIDDLE, trace, count)


@inlined
def _step(b: FloatArray, parts: int) -> None:
    """Fly one step of every lane with the parts of the equations that the procedure needs."""
    if parts == _HELD:
        step(b, None, True, None)
    elif parts == _BENT:
        step(b, None, None, True)
    else:
        step(b, True, True, True)


@inlined
def _parts(p: FloatArray, stages: FloatArray) -> int:
    """Return which parts of the equations a procedure needs: by its runway and by the ways of flying in its stages."""
    held, count = 0, int(p[k.P_STAGES])
    for j in range(count):
        held += 1 if stages[j, k.L_MODE] == MODE_ATTITUDE else 0
    if p[k.P_RUNWAY] > 0.0 or 0 < held < count:
        return _ALL
    return _HELD if held == count else _BENT


@njit(cache=True, error_model="numpy", nogil=True)
def _fly_procedure(
    t: Tables,
    shape: IntArray,
    first: int,
    last: int,
    pace: Pace,
    b: FloatArray,
    out: FloatArray,
    made: FloatArray,
    trace: FloatArray,
) -> int:
    """Fly a range of cases of one procedure; see :func:`fly`."""
    which = first // (max(shape[1], 1) * shape[2] * shape[3])
    parts = _parts(t.procedures[which], t.stages[which])
    who = np.zeros((d.WHO_SIZE, LANES), np.int64)
    who[d.INDEX] = NOBODY
    start, column, shared = np.empty(S_SIZE), np.empty(COLUMN, b.dtype), np.full(3, NOBODY)
    tracing, nodes = len(trace) > 0, 0
    b[:] = 0.0
    b[r.CLOSE : r.CLOSE + LANES] = _CLOSE_64 if b.itemsize == 8 else _CLOSE_32
    b[r.FLAG : r.FLAG + LANES] = OVER
    coming, flying = first, min(LANES, last - first)
    while True:
        waiting = flagged(b)
        while waiting != 0:
            lane = lowest_bit(waiting)
            waiting &= waiting - 1
            flag = b[r.FLAG + lane]
            if flag >= OVER:
                if who[d.INDEX, lane] != NOBODY:
                    close_lane(b, lane, out[who[d.INDEX, lane] - first])
                    flying -= 1 if coming == last else 0
                if coming == last:
                    _stand_still(b, who, lane)
                    continue
                decode(shape, coming, who, lane)
                coming += 1
                if _another(who, lane, shared):
                    _open(b, who, t, lane, start, column)
                fill_lane(b, who, t, lane, column)
            elif flag != DUE:
                m.clear_obstacle(b, lane)
            if flag >= DUE and m.settle(b, who, t, lane, made) and tracing and lane == 0 and flag < OVER:
                nodes = _note(b, r.END, trace, nodes)
        if flying == 0:
            return nodes
        nodes = _note(b, r.END, trace, nodes) if tracing and nodes == 0 else nodes
        plan(b, pace)
        _step(b, parts)
        watch_lanes(b)
        waiting = flagged(b)
        while waiting != 0:
            m.look_inside(b, lowest_bit(waiting))
            waiting &= waiting - 1
        nodes = _note_within(b, b[r.NEXT_SCORE], trace, nodes) if tracing else nodes
        score(b)
        nodes = _note(b, r.END, trace, nodes) if tracing and b[r.STEP] > 0.0 else nodes


@njit(cache=True, error_model="numpy", nogil=True)
def fly(
    t: Tables,
    shape: IntArray,
    first: int,
    last: int,
    pace: Pace,
    b: FloatArray,
    out: FloatArray,
    made: FloatArray,
    trace: FloatArray,
) -> int:
    """Fly the cases from ``first`` up to but not including ``last``.

    Args:
        t: see `Tables`. shape: procedures, cells, draws, techniques; see :func:`decode`.
        pace: how long steps may be, in the precision of the buffer.
        b: buffer, shape (SIZE,), float32 or float64: it decides the precision flown.
        out: filled, shape (last - first, SCORE_COUNT).
        made: filled with the time of each action of the last case, NaN for never, as far as it has room.
        trace: filled with nodes, shape (rows, NODE_SIZE), of a single case; no rows means none is wanted.

    Returns:
        The number of nodes in the trace.
    """
    made[:] = np.nan
    each, begun, nodes = max(shape[1], 1) * shape[2] * shape[3], first, 0
    while begun < last:
        end = min(last, (begun // each + 1) * each)
        nodes = _fly_procedure(t, shape, begun, end, pace, b, out[begun - first : end - first], made, trace)
        begun = end
    return nodes


_ALL, _HELD, _BENT = 0, 1, 2
_CLOSE_64: Final = 1e-8  # s; times nearer than this are one
_CLOSE_32: Final = 5e-4
