"""The start of a trajectory: a steady approach in equilibrium, and what the pilot aims for from there. Compiled."""

from __future__ import annotations

import math

from numba import njit

from wringout.airplane.forces import (
    drag,
    full_throttle_disk_power,
    lift_coefficient,
    reference_disk_power,
    stall_speed,
)
from wringout.airplane.vector import LIFT_SLOPE, MASS_FACTOR, WING_AREA
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3
from wringout.techniques import layout as k
from wringout.techniques.laws import density_series, equivalent_airspeed, thrust_at
from wringout.techniques.types import FloatArray
from wringout.units import STANDARD_GRAVITY

_SHORTEST_S = 1e-3  # stands for "at once", so that no right-hand side jumps


@njit(cache=True, error_model="numpy", nogil=True)
def prepare(a: FloatArray, g: FloatArray, c: FloatArray, s: FloatArray) -> None:
    """Fill the start row: the steady approach in equilibrium, and the speeds and attitudes the pilot aims for.

    Approach power balances the descent: ``T = D + W sin gamma``. The go-around attitude is that of the steady climb
    with full power at the entry speed, nothing retracted, unless the situation states how far the nose is raised.
    """
    weight = c[k.C_MASS] * a[MASS_FACTOR] * STANDARD_GRAVITY
    density, flap, gear, path = c[k.C_DENSITY], g[k.G_FLAP], g[k.G_GEAR], g[k.G_PATH]
    if math.isnan(c[k.C_ENTRY_EAS]):
        speed = c[k.C_ENTRY] * stall_speed(a, weight, density, flap)
    else:
        speed = c[k.C_ENTRY_EAS] * math.sqrt(SEA_LEVEL_DENSITY_KGM3 / density)
    s[k.S_WEIGHT], s[k.S_DENSITY], s[k.S_SPEED], s[k.S_PATH] = weight, density, speed, path
    s[k.S_DENSITY_1], s[k.S_DENSITY_2] = density_series(c[k.C_TEMPERATURE])
    lift = weight * math.cos(path)
    pull = max(drag(a, speed, density, lift, gear, flap) + weight * math.sin(path), 0.0)
    full = full_throttle_disk_power(a, density / SEA_LEVEL_DENSITY_KGM3)
    s[k.S_POWER] = min(reference_disk_power(a, pull, speed, density), full)
    s[k.S_PITCH] = path + _angle_of_attack(a, lift, speed, density, flap)
    s[k.S_PITCH_CLIMB] = s[k.S_PITCH] + g[k.G_PITCH_UP]
    if math.isnan(g[k.G_PITCH_UP]):
        climb = _steady_climb(a, s, gear, flap)
        s[k.S_PITCH_CLIMB] = climb + _angle_of_attack(a, weight * math.cos(climb), speed, density, flap)
    s[k.S_EAS_ENTRY] = equivalent_airspeed(speed, density)
    s[k.S_EAS_CLIMB] = g[k.G_CLIMB_FACTOR] * stall_speed(a, weight, SEA_LEVEL_DENSITY_KGM3, 0.0)
    s[k.S_LEVEL] = 0.0
    s[k.S_LIFT_TIME] = 2.0 * weight / (STANDARD_GRAVITY * density * speed * a[WING_AREA] * a[LIFT_SLOPE])
    s[k.S_TIME_POWER] = g[k.G_POWER_DELAY]
    s[k.S_TIME_FULL] = g[k.G_POWER_DELAY] + max(g[k.G_POWER_RAMP], _SHORTEST_S)
    rotation = abs(s[k.S_PITCH_CLIMB] - s[k.S_PITCH]) / g[k.G_PITCH_RATE]
    s[k.S_TIME_PITCH] = g[k.G_POWER_DELAY] + max(rotation, _SHORTEST_S)
    s[k.S_DURATION], s[k.S_PATH_TIME], s[k.S_SPEED_TIME] = g[k.G_DURATION], g[k.G_PATH_TIME], g[k.G_SPEED_TIME]
    s[k.S_LOAD_LOW], s[k.S_LOAD_HIGH], s[k.S_EAS_PER_CAS] = g[k.G_LOAD_LOW], g[k.G_LOAD_HIGH], c[k.C_EAS_PER_CAS]


@njit(cache=True, error_model="numpy", nogil=True)
def _angle_of_attack(a: FloatArray, lift: float, speed: float, density: float, flap: float) -> float:
    cl = lift / (0.5 * density * speed * speed * a[WING_AREA])
    angle: float = (cl - lift_coefficient(a, 0.0, flap)) / a[LIFT_SLOPE]
    return angle


@njit(cache=True, error_model="numpy", nogil=True)
def _steady_climb(a: FloatArray, s: FloatArray, gear: float, flap: float) -> float:
    """Return the path, rad, of the unaccelerated climb with full power: ``sin gamma = (T - D) / W``."""
    speed, density, weight = s[k.S_SPEED], s[k.S_DENSITY], s[k.S_WEIGHT]
    pull = thrust_at(a, s, 1.0, speed, density)
    path = 0.0
    for _ in range(6):
        sine = (pull - drag(a, speed, density, weight * math.cos(path), gear, flap)) / weight
        path = math.asin(min(max(sine, -0.9), 0.9))
    return path
