"""Events that depend on the state: a gate opening, a stage of the pilot law ending, lift reaching CLmax. Compiled."""

from __future__ import annotations

from numba import njit

from wringout.techniques import layout as k
from wringout.techniques.laws import density_at, equivalent_airspeed
from wringout.techniques.stepping import step_to
from wringout.techniques.types import FloatArray

_SHORTEST_S = 1e-9
_ENOUGH = 1e-11  # in the unit of what is watched
_GATE_OPENS, _STAGE_ENDS, _LIFT_MEETS_MAX, _EVENTS = 0, 1, 2, 3


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def node_eas(s: FloatArray, node: FloatArray) -> float:
    """Return equivalent airspeed at a node, m/s."""
    eas: float = equivalent_airspeed(node[k.N_SPEED], density_at(s, node[k.N_HEIGHT]))
    return eas


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def gate_opening(s: FloatArray, actions: FloatArray, which: int, node: FloatArray) -> float:
    """Return by how much an action's gate is open: not negative when the action may be made."""
    opening = 1.0
    if actions[which, k.A_GATE] == k.GATE_CLIMB:
        opening = node[k.N_CLIMB] - actions[which, k.A_GATE_VALUE]
    elif actions[which, k.A_GATE] == k.GATE_SPEED:
        opening = node_eas(s, node) - actions[which, k.A_GATE_VALUE] * s[k.S_EAS_PER_CAS]
    return opening


@njit(cache=True, error_model="numpy", nogil=True)
def _watch(s: FloatArray, u: FloatArray, actions: FloatArray, waiting: int, which: int, node: FloatArray) -> float:
    """Return the quantity whose change of sign is the event ``which``; it comes from below for all but the last."""
    value = -1.0
    if which == _LIFT_MEETS_MAX:
        value = node[k.N_LIFT_MAX] - node[k.N_LIFT_ASKED]
    elif which == _STAGE_ENDS and u[k.U_UNTIL] == k.UNTIL_SPEED:
        value = node_eas(s, node) - u[k.U_UNTIL_VALUE]
    elif which == _GATE_OPENS and waiting >= 0:
        value = gate_opening(s, actions, waiting, node)
    return value


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def event_within(
    s: FloatArray, u: FloatArray, actions: FloatArray, waiting: int, old: FloatArray, new: FloatArray
) -> bool:
    """Return whether a step holds an event; cheap, so that :func:`shorten` is called only when there is one."""
    found = bool((old[k.N_LIFT_MAX] < old[k.N_LIFT_ASKED]) != (new[k.N_LIFT_MAX] < new[k.N_LIFT_ASKED]))
    if u[k.U_UNTIL] == k.UNTIL_SPEED:
        found = found or bool(node_eas(s, new) >= u[k.U_UNTIL_VALUE])
    if waiting >= 0:
        found = found or bool(gate_opening(s, actions, waiting, new) >= 0.0)
    return found


@njit(cache=True, error_model="numpy", nogil=True)
def shorten(
    a: FloatArray,
    s: FloatArray,
    u: FloatArray,
    devices: FloatArray,
    actions: FloatArray,
    waiting: int,
    old: FloatArray,
    new: FloatArray,
) -> int:
    """Shorten the step from ``old`` to ``new`` to just past the first event in it; returns how often that was done.

    Args:
        a: parameter row; s: start row; u: controls; devices: their motion during the step.
        actions: all actions; waiting: index of the one whose gate is watched, -1 for none.
        old: node at the start of the step. new: node at its end, replaced when the step is shortened.
    """
    found = 0
    for which in range(_EVENTS):
        before = _watch(s, u, actions, waiting, which, old)
        after = _watch(s, u, actions, waiting, which, new)
        if (before < 0.0) != (after < 0.0) and (before < 0.0 or which == _LIFT_MEETS_MAX):
            _locate(a, s, u, devices, actions, waiting, which, before, after, old, new)
            found += 1
    return found


@njit(cache=True, error_model="numpy", nogil=True)
def _locate(
    a: FloatArray,
    s: FloatArray,
    u: FloatArray,
    devices: FloatArray,
    actions: FloatArray,
    waiting: int,
    which: int,
    at_low: float,
    at_high: float,
    old: FloatArray,
    new: FloatArray,
) -> None:
    """End the step just past the event: false position (Illinois variant) on whole Runge-Kutta steps."""
    low, high, kept = old[k.N_TIME], new[k.N_TIME], 0
    for _ in range(60):
        if high - low < _SHORTEST_S or abs(at_high) < _ENOUGH:
            break
        time = low + min(max(at_low / (at_low - at_high), 0.01), 0.99) * (high - low)
        step_to(a, s, u, devices, old, time, new)
        value = _watch(s, u, actions, waiting, which, new)
        if (value < 0.0) == (at_high < 0.0):
            high, at_high = time, value
            at_low *= 0.5 if kept == 1 else 1.0
            kept = 1
        else:
            low, at_low = time, value
            at_high *= 0.5 if kept == -1 else 1.0
            kept = -1
    step_to(a, s, u, devices, old, high, new)
