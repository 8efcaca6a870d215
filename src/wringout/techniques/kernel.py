"""The kernel: a range of cases, flown in lanes, to scores. Compiled.

A case is a number; procedure, cell of a map, draw and technique are decoded from it here, so memory does not grow with
the number of cases. A lane that has finished takes the next case at once. Each lane's arithmetic is its own, so the
same case gives the same bits whatever range, thread or lane it is flown in.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from wringout.techniques import devices as d
from wringout.techniques import lane_rows as r
from wringout.techniques import moments as m
from wringout.techniques.compiling import compiled, inlined
from wringout.techniques.devices import Tables
from wringout.techniques.lane_rows import LANES
from wringout.techniques.lanes import INSIDE, advance, check, now_at, plan, step
from wringout.techniques.motion import rates
from wringout.techniques.opening import close_lane, open_lane
from wringout.techniques.start import S_SIZE, case_at, prepare
from wringout.techniques.types import FloatArray, IntArray

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


@compiled
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
def _load(
    b: FloatArray, who: IntArray, t: Tables, shape: IntArray, case: int, lane: int, s: FloatArray, prepared: IntArray
) -> None:
    """Load a case into a lane; the start row is worked out again only for another draw, cell or procedure."""
    decode(shape, case, who, lane)
    draw, cell, which = who[d.DRAW, lane], who[d.CELL, lane], who[d.PROCEDURE, lane]
    if draw != prepared[0] or cell != prepared[1] or which != prepared[2]:
        prepare(t.rows[draw], t.procedures[which], t.conditions[cell], s)
        prepared[0], prepared[1], prepared[2] = draw, cell, which
    open_lane(b, who, t, s, lane)


@compiled
def _rest(b: FloatArray, lane: int) -> None:
    """Let a lane with nothing left to fly stand still: it keeps its last state and raises no flag."""
    b[r.DURATION + lane] = b[r.TIME + r.NEW + lane]
    b[r.FLAG + lane] = 0.0


@compiled
def _note(b: FloatArray, trace: FloatArray, count: int) -> int:
    """Write the new node of lane 0 into the trace; returns how many nodes there are now."""
    if count >= len(trace):
        return count
    n = r.NEW
    now = now_at(b, r.END, 0)
    found = rates(case_at(b, 0, LANES), now, b[r.SPEED + n], b[r.PATH + n], b[r.HEIGHT + n])
    row = trace[count]
    row[NODE_TIME], row[NODE_STATE] = b[r.TIME + n], b[r.SPEED + n]
    row[NODE_STATE + 1], row[NODE_STATE + 2], row[NODE_STATE + 3] = b[r.PATH + n], b[r.HEIGHT + n], b[r.DISTANCE + n]
    row[NODE_CLIMB], row[NODE_LIFT], row[NODE_MOST] = found.climb, found.lift, found.most
    row[NODE_ASKED], row[NODE_THRUST], row[NODE_DRAG] = found.asked, found.thrust, found.drag
    row[NODE_GEAR], row[NODE_FLAP], row[NODE_POWER] = b[r.GEAR_AT + r.END], b[r.FLAP_AT + r.END], now.power
    row[NODE_SHIFT], row[NODE_CL_MAX], row[NODE_ROLLING] = now.shift, now.cl_max, now.rolling
    return count + 1


@inlined
def _attend(b: FloatArray, who: IntArray, t: Tables, lane: int, made: FloatArray) -> bool:
    """Attend to a flagged lane: refuse its step, or score it and do what is due; returns whether the forces jumped."""
    if b[r.FLAG + lane] >= INSIDE and m.event_inside(b, lane):
        return False
    m.score_step(b, lane)
    if b[r.TIME + r.NEW + lane] >= b[r.NEXT_SCORE + lane] - b[r.CLOSE + lane]:
        m.note_score_time(b, who, lane)
    return bool(m.due(b, lane) and m.settle(b, who, t, lane, made))


@compiled
def _open_lanes(
    b: FloatArray, who: IntArray, t: Tables, shape: IntArray, span: IntArray, s: FloatArray, prepared: IntArray
) -> int:
    """Put the first cases into the lanes; a lane left over stands still. Returns how many lanes fly."""
    flying = 0
    for lane in range(LANES):
        _load(b, who, t, shape, min(span[0], span[1] - 1), lane, s, prepared)
        b[r.ACCEPT + lane] = 1.0
        if span[0] < span[1]:
            flying += 1
            span[0] += 1
        else:
            who[d.INDEX, lane] = -1
            _rest(b, lane)
    return flying


@compiled
def _change(
    b: FloatArray,
    who: IntArray,
    t: Tables,
    shape: IntArray,
    span: IntArray,
    s: FloatArray,
    prepared: IntArray,
    made: FloatArray,
    out: FloatArray,
) -> int:
    """Close the lanes that are done and put the next cases into them; returns how many lanes fell idle."""
    idle, opened = 0, False
    for lane in range(LANES):
        attended = b[r.FLAG + lane] > 0.0 and b[r.ACCEPT + lane] > 0.0 and who[d.INDEX, lane] >= 0
        if not (attended and m.finished(b, lane)):
            continue
        close_lane(b, lane, out[who[d.INDEX, lane] - span[2]])
        if span[0] < span[1]:
            _load(b, who, t, shape, span[0], lane, s, prepared)
            m.settle(b, who, t, lane, made)
            span[0] += 1
            opened = True
        else:
            who[d.INDEX, lane] = -1
            idle += 1
            _rest(b, lane)
    if opened:
        advance(b)
    return idle


@njit(cache=True, error_model="numpy", nogil=True)
def fly(
    t: Tables,
    shape: IntArray,
    first: int,
    last: int,
    longest: float,
    quiet: float,
    b: FloatArray,
    out: FloatArray,
    made: FloatArray,
    trace: FloatArray,
) -> int:
    """Fly the cases from ``first`` up to but not including ``last``.

    Args:
        t: see `Tables`. shape: procedures, cells, draws, techniques; see :func:`decode`.
        longest: longest step while anything moves, s; quiet: factor on it once nothing has for a while; both of the
            precision of the buffer.
        b: buffer, shape (SIZE,), float32 or float64: it decides the precision flown.
        out: filled, shape (last - first, SCORE_COUNT).
        made: filled with the time of each action of the last case, NaN for never, as far as it has room.
        trace: filled with nodes, shape (rows, NODE_SIZE), of a single case; no rows means none is wanted.

    Returns:
        The number of nodes in the trace.
    """
    who, s = np.zeros((d.WHO_SIZE, LANES), np.int64), np.empty(S_SIZE)
    prepared, span, tracing = np.full(3, -1), np.array([first, last, first]), len(trace) > 0
    made[:] = np.nan
    b[:] = 0.0
    b[r.CLOSE : r.CLOSE + LANES] = _CLOSE_64 if b.itemsize == 8 else _CLOSE_32
    flying, nodes = _open_lanes(b, who, t, shape, span, s, prepared), _note(b, trace, 0)
    for lane in range(flying):
        if m.settle(b, who, t, lane, made):
            nodes = _note(b, trace, nodes)
    advance(b)
    while flying > 0:
        plan(b, longest, quiet)
        step(b)
        check(b)
        if tracing:
            _note(b, trace, nodes)
        jumped = False
        for lane in range(LANES):
            if b[r.FLAG + lane] > 0.0 and who[d.INDEX, lane] >= 0:
                jumped |= _attend(b, who, t, lane, made)
        if tracing and b[r.ACCEPT] > 0.0:
            nodes = min(nodes + 1, len(trace))
            nodes = _note(b, trace, nodes) if jumped else nodes
        advance(b)
        flying -= _change(b, who, t, shape, span, s, prepared, made, out)
    return nodes


_CLOSE_64: Final = 1e-8  # s; times nearer than this are one
_CLOSE_32: Final = 5e-4
