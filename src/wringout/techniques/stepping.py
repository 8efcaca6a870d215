"""One Runge-Kutta step between nodes. Compiled. A node holds time, state, rates and forces (see `layout`)."""

from __future__ import annotations

from numba import njit

from wringout.techniques import layout as k
from wringout.techniques.laws import rates, set_controls
from wringout.techniques.types import FloatArray


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def _fill(a: FloatArray, s: FloatArray, u: FloatArray, node: FloatArray) -> None:
    """Fill the rates and forces of a node from its state and the controls."""
    speed_rate, path_rate, climb, along, lift, most, asked, pull, held_back = rates(
        a, s, u, node[k.N_SPEED], node[k.N_PATH], node[k.N_HEIGHT]
    )
    node[k.N_SPEED_RATE], node[k.N_PATH_RATE] = speed_rate, path_rate
    node[k.N_CLIMB], node[k.N_GROUND_SPEED] = climb, along
    node[k.N_LIFT], node[k.N_LIFT_MAX], node[k.N_LIFT_ASKED] = lift, most, asked
    node[k.N_GEAR], node[k.N_FLAP], node[k.N_THRUST], node[k.N_DRAG] = u[k.U_GEAR], u[k.U_FLAP], pull, held_back


@njit(cache=True, error_model="numpy", nogil=True)
def evaluate(a: FloatArray, s: FloatArray, u: FloatArray, devices: FloatArray, node: FloatArray) -> None:
    """Fill the rates and forces of a node from its time and state."""
    set_controls(a, s, devices, node[k.N_TIME], u)
    _fill(a, s, u, node)


@njit(cache=True, error_model="numpy", nogil=True)
def step_to(
    a: FloatArray, s: FloatArray, u: FloatArray, devices: FloatArray, old: FloatArray, end: float, new: FloatArray
) -> None:
    """Fly one Runge-Kutta step from node ``old`` to time ``end``; fills node ``new``; ``u`` holds the stage flown."""
    dt = end - old[k.N_TIME]
    half = 0.5 * dt
    v0, p0, h0 = old[k.N_SPEED], old[k.N_PATH], old[k.N_HEIGHT]
    dv1, dp1, dh1, dx1 = old[k.N_SPEED_RATE], old[k.N_PATH_RATE], old[k.N_CLIMB], old[k.N_GROUND_SPEED]
    set_controls(a, s, devices, old[k.N_TIME] + half, u)
    dv2, dp2, dh2, dx2, _, _, _, _, _ = rates(a, s, u, v0 + half * dv1, p0 + half * dp1, h0 + half * dh1)
    dv3, dp3, dh3, dx3, _, _, _, _, _ = rates(a, s, u, v0 + half * dv2, p0 + half * dp2, h0 + half * dh2)
    set_controls(a, s, devices, end, u)
    dv4, dp4, dh4, dx4, _, _, _, _, _ = rates(a, s, u, v0 + dt * dv3, p0 + dt * dp3, h0 + dt * dh3)
    sixth = dt / 6.0
    new[k.N_TIME] = end
    new[k.N_SPEED] = v0 + sixth * (dv1 + 2.0 * (dv2 + dv3) + dv4)
    new[k.N_PATH] = p0 + sixth * (dp1 + 2.0 * (dp2 + dp3) + dp4)
    new[k.N_HEIGHT] = h0 + sixth * (dh1 + 2.0 * (dh2 + dh3) + dh4)
    new[k.N_DISTANCE] = old[k.N_DISTANCE] + sixth * (dx1 + 2.0 * (dx2 + dx3) + dx4)
    _fill(a, s, u, new)
