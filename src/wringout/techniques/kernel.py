"""The trajectory kernel: from a parameter row, a situation, conditions, actions and a pilot law to scores. Compiled.

Classical fourth-order Runge-Kutta. Steps end where the right-hand side has a corner: known times (power, rotation,
devices starting, arriving and passing a detent, score times) are planned, events that depend on the state (a gate
opening, a speed reached, lift reaching CLmax) are found by shortening the step. Everything is deterministic: the same
inputs give the same bits whatever the chunking.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from wringout.airplane.vector import ANGLES, SETTINGS
from wringout.techniques import layout as k
from wringout.techniques.devices import move, next_corner, rest_devices
from wringout.techniques.events import event_within, gate_opening, node_eas, shorten
from wringout.techniques.laws import begin_stage
from wringout.techniques.scores import (
    ACTIONS,
    FIRST_SECONDS_S,
    SCORE_TIMES_S,
    open_scores,
    score_moment,
    score_step,
)
from wringout.techniques.start import prepare
from wringout.techniques.stepping import evaluate, step_to
from wringout.techniques.types import MAX_ACTIONS, FloatArray

MAX_EVENTS = 60  # after this many located events a trajectory is flown without looking for more
_EPSILON_S = 1e-9
_SHARE = 0.6  # longest step as a share of the time constant of the flight path
_SETTLED = 3.5  # time constants after which steps grow


@njit(cache=True, error_model="numpy", nogil=True)
def _plan(
    a: FloatArray,
    s: FloatArray,
    u: FloatArray,
    devices: FloatArray,
    earliest: float,
    time: float,
    longest: float,
) -> float:
    """Return when the next step ends: the next corner known in advance, or one of equal parts of the way there.

    A step is never longer than a share of the time constant of the flight path (lift damping at a held attitude, the
    pilot's own otherwise); once nothing has moved for some of them, steps are twice as long.
    """
    soon = time + _EPSILON_S
    end = min(s[k.S_DURATION], next_corner(a, devices, soon))
    for corner in (s[k.S_TIME_POWER], s[k.S_TIME_FULL], s[k.S_TIME_PITCH], earliest):
        if soon < corner < end:
            end = corner
    if u[k.U_UNTIL] == k.UNTIL_TIME and soon < u[k.U_UNTIL_VALUE] < end:
        end = u[k.U_UNTIL_VALUE]
    for score_time in SCORE_TIMES_S:
        if soon < score_time < end:
            end = score_time
    quiet = max(s[k.S_TIME_FULL], s[k.S_TIME_PITCH], u[k.U_SINCE])
    quiet = max(quiet, devices[k.GEAR, k.D_ARRIVES], devices[k.FLAPS, k.D_ARRIVES])
    fastest = s[k.S_LIFT_TIME] if u[k.U_MODE] == k.MODE_ATTITUDE else s[k.S_PATH_TIME]
    longest = min(longest, _SHARE * fastest)
    if time >= quiet + _SETTLED * fastest:
        longest *= 2.0
    parts = math.ceil((end - time) / longest - 1e-6)
    return end if parts <= 1 else time + (end - time) / parts


@njit(cache=True, error_model="numpy", nogil=True)
def _earliest(actions: FloatArray, devices: FloatArray, c: FloatArray, pending: int, since: float) -> float:
    """Return when the next action may be made at the earliest: infinite when there is none."""
    if pending >= len(actions):
        return math.inf
    action = actions[pending]
    time = since + action[k.A_WAIT] + c[k.C_REACTIONS + pending]
    if action[k.A_SETTLED] > 0.0:
        time = max(time, devices[int(action[k.A_DEVICE]), k.D_ARRIVES])
    return time


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def _due(s: FloatArray, actions: FloatArray, pending: int, earliest: float, node: FloatArray) -> bool:
    if node[k.N_TIME] < earliest - _EPSILON_S:
        return False
    return bool(gate_opening(s, actions, pending, node) >= 0.0)


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def _stage_over(s: FloatArray, u: FloatArray, node: FloatArray) -> bool:
    if u[k.U_UNTIL] == k.UNTIL_TIME:
        return bool(node[k.N_TIME] >= u[k.U_UNTIL_VALUE] - _EPSILON_S)
    return bool(u[k.U_UNTIL] == k.UNTIL_SPEED and node_eas(s, node) >= u[k.U_UNTIL_VALUE])


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def _above_limit(a: FloatArray, s: FloatArray, limits: FloatArray, node: FloatArray) -> float:
    """Return calibrated speed less the lowest limit that holds now, m/s; limits are VFE by detent, VLE, VLO."""
    last = int(a[SETTINGS]) - 1
    limit = math.inf
    for j in range(1, last + 1):
        if node[k.N_FLAP] > a[ANGLES + j - 1] + 1e-9:
            limit = limits[j]
    if node[k.N_GEAR] >= 1.0:
        limit = min(limit, limits[-2])
    elif node[k.N_GEAR] > 0.0:
        limit = min(limit, limits[-1])
    return node_eas(s, node) / s[k.S_EAS_PER_CAS] - limit


@njit(cache=True, error_model="numpy", nogil=True)
def fly(
    a: FloatArray,
    g: FloatArray,
    c: FloatArray,
    s: FloatArray,
    actions: FloatArray,
    law: FloatArray,
    limits: FloatArray,
    longest: float,
    score: FloatArray,
    made: FloatArray,
    trace: FloatArray,
) -> int:
    """Fly one trajectory.

    Args:
        a: parameter row; g: situation row; c: conditions row; s: start row of `prepare`.
        actions: shape (actions, A_SIZE). law: shape (stages, L_SIZE).
        limits: calibrated m/s: VFE by detent, then VLE, VLO; infinite where there is none.
        longest: longest step, s.
        score: filled, shape (SCORE_COUNT,). made: filled with the time of each action, NaN for never.
        trace: filled with nodes, shape (rows, N_SIZE); no rows means no trace is wanted.

    Returns:
        The number of nodes flown (a trace with fewer rows holds the first of them).
    """
    devices, u = np.empty((2, k.D_SIZE)), np.empty(k.U_SIZE)
    rest_devices(g, devices)
    old, new = np.zeros(k.N_SIZE), np.zeros(k.N_SIZE)
    old[k.N_SPEED], old[k.N_PATH] = s[k.S_SPEED], s[k.S_PATH]
    count, events, stage, pending = 0, 0, 0, 0
    climbing_since = math.nan
    begin_stage(s, law, stage, 0.0, u)
    open_scores(score)
    made[:] = math.nan
    earliest = _earliest(actions, devices, c, 0, s[k.S_TIME_FULL])
    evaluate(a, s, u, devices, old)
    while True:
        score_moment(score, old, s[k.S_SPEED], _above_limit(a, s, limits, old))
        if count < len(trace):
            trace[count] = old
        count += 1
        if old[k.N_TIME] >= s[k.S_DURATION] - _EPSILON_S:
            break
        if _stage_over(s, u, old):
            stage += 1
            begin_stage(s, law, stage, old[k.N_TIME], u)
            evaluate(a, s, u, devices, old)
            continue
        while _due(s, actions, pending, earliest, old):
            move(a, devices, int(actions[pending, k.A_DEVICE]), actions[pending, k.A_TARGET], old[k.N_TIME])
            made[pending] = old[k.N_TIME]
            pending += 1
            earliest = _earliest(actions, devices, c, pending, old[k.N_TIME])
        end = _plan(a, s, u, devices, earliest, old[k.N_TIME], longest)
        step_to(a, s, u, devices, old, end, new)
        waiting = pending if old[k.N_TIME] >= earliest - _EPSILON_S else -1
        if events < MAX_EVENTS and event_within(s, u, actions, waiting, old, new):
            events += shorten(a, s, u, devices, actions, waiting, old, new)
        climbing_since = score_step(score, old, new, climbing_since)
        old, new = new, old
    score[ACTIONS] = np.sum(made <= FIRST_SECONDS_S)
    return count


@njit(cache=True, error_model="numpy", nogil=True)
def fly_block(
    rows: FloatArray,
    g: FloatArray,
    conditions: FloatArray,
    actions: FloatArray,
    action_counts: FloatArray,
    law: FloatArray,
    limits: FloatArray,
    longest: float,
    scores: FloatArray,
) -> None:
    """Fly every technique on every draw of a block.

    Args:
        rows: shape (draws, SIZE). conditions: shape (draws, C_SIZE).
        actions: shape (techniques, MAX_ACTIONS, A_SIZE), the first ``action_counts[t]`` rows of each valid.
        scores: filled, shape (draws, techniques, SCORE_COUNT).
    """
    s, made, no_trace = np.empty(k.S_SIZE), np.empty(MAX_ACTIONS), np.empty((0, k.N_SIZE))
    for i in range(len(rows)):
        prepare(rows[i], g, conditions[i], s)
        for j in range(len(actions)):
            count = int(action_counts[j])
            fly(
                rows[i],
                g,
                conditions[i],
                s,
                actions[j, :count],
                law,
                limits,
                longest,
                scores[i, j],
                made[:count],
                no_trace,
            )
