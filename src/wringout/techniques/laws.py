"""The right-hand side: equations of motion of a point mass, wings level, with the pilot in the loop. Compiled.

Written once; the batch kernel, the single trajectory for a figure and the trim all use it. ``a`` is a parameter row,
``s`` a start row (see `wringout.techniques.layout`). Air density follows the height within the trajectory.
"""

from __future__ import annotations

import math

from numba import njit

from wringout.airplane.forces import cl_max, drag, full_throttle_disk_power, lift_coefficient, thrust
from wringout.airplane.vector import WING_AREA
from wringout.atmosphere import GAS_CONSTANT_AIR, LAPSE_RATE_K_PER_M, SEA_LEVEL_DENSITY_KGM3
from wringout.techniques.devices import position
from wringout.techniques.layout import (
    FLAPS,
    GEAR,
    L_MODE,
    L_TARGET,
    L_UNTIL,
    L_UNTIL_SLOT,
    MODE_ATTITUDE,
    MODE_SPEED,
    S_DENSITY,
    S_DENSITY_1,
    S_DENSITY_2,
    S_LOAD_HIGH,
    S_LOAD_LOW,
    S_PATH_TIME,
    S_PITCH,
    S_PITCH_CLIMB,
    S_POWER,
    S_SPEED_TIME,
    S_TIME_FULL,
    S_TIME_PITCH,
    S_TIME_POWER,
    S_WEIGHT,
    U_CL_MAX,
    U_FLAP,
    U_GEAR,
    U_MODE,
    U_PITCH,
    U_POWER,
    U_SINCE,
    U_TARGET,
    U_UNTIL,
    U_UNTIL_VALUE,
)
from wringout.techniques.types import FloatArray
from wringout.units import STANDARD_GRAVITY

_DENSITY_EXPONENT = STANDARD_GRAVITY / (GAS_CONSTANT_AIR * LAPSE_RATE_K_PER_M) - 1.0
_STEEPEST = 0.5  # largest sine of a flight path the pilot asks for
_SLOWEST_MPS = 5.0  # far below any stall; keeps the equations finite after one


@njit(cache=True, error_model="numpy", nogil=True)
def density_series(temperature_k: float) -> tuple[float, float]:
    """Return the coefficients (1/m, 1/m2) of density against height near a level.

    The second-order series of ``rho / rho_s = (1 - L h / T_s)^(g / (R L) - 1)`` with the standard lapse rate L
    (hydrostatic air, ICAO Doc 7488/3); within 1e-5 over 500 m.
    """
    x = LAPSE_RATE_K_PER_M / temperature_k
    return -_DENSITY_EXPONENT * x, 0.5 * _DENSITY_EXPONENT * (_DENSITY_EXPONENT - 1.0) * x * x


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def density_at(s: FloatArray, height: float) -> float:
    """Return air density, kg/m3, at a height (m) above the start."""
    density: float = s[S_DENSITY] * (1.0 + height * (s[S_DENSITY_1] + height * s[S_DENSITY_2]))
    return density


@njit(cache=True, error_model="numpy", nogil=True)
def equivalent_airspeed(speed: float, density: float) -> float:
    """Return equivalent airspeed, ``V sqrt(rho / rho_0)``."""
    return speed * math.sqrt(density / SEA_LEVEL_DENSITY_KGM3)


@njit(cache=True, error_model="numpy", nogil=True)
def ramp(time: float, start: float, end: float) -> float:
    """Return 0 before ``start``, 1 after ``end`` and a straight line between."""
    return min(max((time - start) / (end - start), 0.0), 1.0)


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def power_share(s: FloatArray, time: float) -> float:
    """Return how far power has come from approach (0) to full (1)."""
    share: float = ramp(time, s[S_TIME_POWER], s[S_TIME_FULL])
    return share


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def pitch_attitude(s: FloatArray, time: float) -> float:
    """Return the attitude held under "hold attitude", rad: rotation at a finite rate, then constant."""
    raised = ramp(time, s[S_TIME_POWER], s[S_TIME_PITCH])
    pitch: float = s[S_PITCH] + raised * (s[S_PITCH_CLIMB] - s[S_PITCH])
    return pitch


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def thrust_at(a: FloatArray, s: FloatArray, share: float, speed: float, density: float) -> float:
    """Return thrust, N, with power a ``share`` of the way from approach power to full throttle at this density."""
    full = full_throttle_disk_power(a, density / SEA_LEVEL_DENSITY_KGM3)
    return thrust(a, s[S_POWER] + share * (full - s[S_POWER]), speed, density)


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def limited_load_factor(s: FloatArray, wanted: float) -> float:
    """Return the load factor flown for the one wanted, approaching the pilot's limits smoothly.

    ``n = 1 + x / sqrt(1 + (x / b)^2)`` with ``x = wanted - 1`` and ``b`` the room to the limit on that side: slope 1
    near 1 g, never beyond the limit, and no corner for the integrator to step over.
    """
    x = wanted - 1.0
    room = s[S_LOAD_HIGH] - 1.0 if x >= 0.0 else 1.0 - s[S_LOAD_LOW]
    ratio = x / room
    return 1.0 + x / math.sqrt(1.0 + ratio * ratio)


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def path_for_speed(s: FloatArray, eas: float, speed: float, density: float, excess: float) -> float:
    """Return the flight path, rad, that flies off the error from a wanted equivalent airspeed.

    ``excess`` is (T - D) / W at 1 g. From ``dV/dt = g (excess - sin gamma)`` set to ``(V_wanted - V) / tau``.
    """
    wanted = eas * math.sqrt(SEA_LEVEL_DENSITY_KGM3 / density)
    sine = excess - (wanted - speed) / (STANDARD_GRAVITY * s[S_SPEED_TIME])
    return math.asin(min(max(sine, -_STEEPEST), _STEEPEST))


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def lift_asked(
    a: FloatArray, s: FloatArray, u: FloatArray, speed: float, path: float, density: float, excess: float
) -> float:
    """Return the lift the pilot asks for, N, before the cap at CLmax.

    Holding attitude: the lift the wing gives at ``alpha = pitch - gamma``; raising flaps loses lift and the airplane
    sinks. Otherwise: the lift that bends the path to the wanted one with the pilot's time constant.
    """
    if u[U_MODE] == MODE_ATTITUDE:
        cl = lift_coefficient(a, u[U_PITCH] - path, u[U_FLAP])
        lift: float = 0.5 * density * speed * speed * a[WING_AREA] * cl
        return lift
    target = u[U_TARGET]
    if u[U_MODE] == MODE_SPEED:
        target = path_for_speed(s, target, speed, density, excess)
    wanted = math.cos(path) + speed * (target - path) / (STANDARD_GRAVITY * s[S_PATH_TIME])
    bent: float = s[S_WEIGHT] * limited_load_factor(s, wanted)
    return bent


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def rates(
    a: FloatArray, s: FloatArray, u: FloatArray, true_speed: float, path: float, height: float
) -> tuple[float, float, float, float, float, float, float, float, float]:
    """Return the rates of the state and the forces they come from, SI.

    ``dV/dt = (T - D) / m - g sin gamma``, ``dgamma/dt = (L - W cos gamma) / (m V)``, ``dh/dt = V sin gamma``,
    ``dx/dt = V cos gamma`` (point mass in a vertical plane, thrust along the path; any performance textbook). Lift is
    capped at CLmax; what a real airplane does after the stall is not modelled.

    Args:
        a: parameter row; s: start row; u: controls at this moment.
        true_speed, path, height: the state.

    Returns:
        ``(dV/dt, dgamma/dt, dh/dt, dx/dt, lift, lift at CLmax, lift asked for, thrust, drag)``.
    """
    speed = max(true_speed, _SLOWEST_MPS)
    sine, cosine = math.sin(path), math.cos(path)
    density = density_at(s, height)
    weight, gear, flap = s[S_WEIGHT], u[U_GEAR], u[U_FLAP]
    pull = thrust_at(a, s, u[U_POWER], speed, density)
    excess = 0.0
    if u[U_MODE] == MODE_SPEED:
        excess = (pull - drag(a, speed, density, weight * cosine, gear, flap)) / weight
    asked = lift_asked(a, s, u, speed, path, density, excess)
    most = 0.5 * density * speed * speed * a[WING_AREA] * u[U_CL_MAX]
    lift = min(asked, most)
    held_back = drag(a, speed, density, lift, gear, flap)
    per_mass = STANDARD_GRAVITY / weight
    speed_rate = (pull - held_back) * per_mass - STANDARD_GRAVITY * sine
    path_rate = (lift - weight * cosine) * per_mass / speed
    return speed_rate, path_rate, speed * sine, speed * cosine, lift, most, asked, pull, held_back


@njit(cache=True, error_model="numpy", nogil=True)
def begin_stage(s: FloatArray, law: FloatArray, stage: int, time: float, u: FloatArray) -> None:
    """Put a stage of the pilot law into the controls."""
    u[U_MODE], u[U_TARGET] = law[stage, L_MODE], s[int(law[stage, L_TARGET])]
    u[U_UNTIL], u[U_UNTIL_VALUE] = law[stage, L_UNTIL], s[int(law[stage, L_UNTIL_SLOT])]
    u[U_SINCE] = time


@njit(cache=True, error_model="numpy", nogil=True, inline="always")
def set_controls(a: FloatArray, s: FloatArray, devices: FloatArray, time: float, u: FloatArray) -> None:
    """Fill the controls at a time with what depends on nothing but the clock."""
    u[U_POWER], u[U_PITCH] = power_share(s, time), pitch_attitude(s, time)
    u[U_GEAR], u[U_FLAP] = position(devices, GEAR, time), position(devices, FLAPS, time)
    u[U_CL_MAX] = cl_max(a, u[U_FLAP])
