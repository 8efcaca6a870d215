"""The equations of the airplane: drag, lift and thrust of a point mass, wings level. SI floats, compiled.

Each function takes a parameter row (see :mod:`wringout.airplane.vector`). They are written once and used by the
reduction of runs, by the technique kernel and by the figures.
"""

from __future__ import annotations

import math

from numba import njit

from wringout.airplane.vector import (
    ALTITUDE_LAW,
    ANGLES,
    CL_MAXES,
    CL_REFERENCE,
    CLEAN_SLOPE,
    DISK_AREA,
    DISK_EFFICIENCY,
    EFFICIENCY_SLOPE,
    EFFICIENCY_SPEED,
    F_CLEAN,
    F_FLAPS,
    F_GEAR,
    FLAP_FLOORS,
    FLAP_SLOPES,
    GEAR_BUMP,
    KAPPA,
    LIFT_SLOPE,
    OSWALD,
    PROPELLER_LAW,
    RATED_POWER,
    SETTINGS,
    SPAN,
    THRUST_BEND,
    WING_AREA,
    FloatArray,
)


@njit(cache=True, error_model="numpy")
def _bracket(a: FloatArray, flap_rad: float) -> int:
    """Return the index of the flap detent at or below ``flap_rad``, at most the last but one."""
    last = int(a[SETTINGS]) - 2
    i = 0
    while i < last and flap_rad > a[ANGLES + i + 1]:
        i += 1
    return i


@njit(cache=True, error_model="numpy")
def by_square(a: FloatArray, table: int, flap_rad: float) -> float:
    """Return a number of the flaps, from its table in the row, that is linear in the square of the angle."""
    i = _bracket(a, flap_rad)
    low, high = a[ANGLES + i], a[ANGLES + i + 1]
    share = (flap_rad * flap_rad - low * low) / (high * high - low * low)
    return a[table + i] + min(max(share, 0.0), 1.0) * (a[table + i + 1] - a[table + i])


@njit(cache=True, error_model="numpy")
def by_angle(a: FloatArray, table: int, flap_rad: float) -> float:
    """Return a number of the flaps, from its table in the row, that is linear in angle between detents."""
    i = _bracket(a, flap_rad)
    low, high = a[ANGLES + i], a[ANGLES + i + 1]
    share = min(max((flap_rad - low) / (high - low), 0.0), 1.0)
    return a[table + i] + share * (a[table + i + 1] - a[table + i])


@njit(cache=True, error_model="numpy")
def flap_area_at_reference(a: FloatArray, flap_rad: float) -> float:
    """Return the flap's equivalent parasite area, m2, at the reference lift coefficient, its floor left out.

    Between detents it is linear in the square of the angle: a published flight measurement found the area
    proportional to angle squared (U.S. Naval Academy technical note on partial-span flaps, Table 1).
    """
    return by_square(a, F_FLAPS, flap_rad)


@njit(cache=True, error_model="numpy")
def flap_share(a: FloatArray, flap_rad: float) -> float:
    """Return phi, flap angle as a share of full travel."""
    return flap_rad / a[ANGLES + int(a[SETTINGS]) - 1]


@njit(cache=True, error_model="numpy")
def flap_area(a: FloatArray, flap_rad: float, cl: float) -> float:
    """Return the flap's equivalent parasite area, m2, at lift coefficient ``cl``; never below its floor.

    A flap moves the whole polar sideways, so at equal lift its drag area changes linearly with CL (expand
    CD0 + k (CL - CL0(delta))^2). It does not do so for ever: at high lift the flap still has the drag of its own wake,
    and two airplanes of the flight-dynamics library JSBSim have a flat floor there (docs/accuracy-methods.md).
    Both are tabulated by setting; between settings the slope is linear in angle, the floor in its square as the area.
    """
    straight = flap_area_at_reference(a, flap_rad) + by_angle(a, FLAP_SLOPES, flap_rad) * (cl - a[CL_REFERENCE])
    return max(straight, by_square(a, FLAP_FLOORS, flap_rad))


@njit(cache=True, error_model="numpy")
def gear_area(a: FloatArray, gear: float, flap_rad: float) -> float:
    """Return the gear's equivalent parasite area, m2, at position ``gear`` (0 up, 1 down) behind the flap."""
    bump = 4.0 * a[GEAR_BUMP] * gear * (1.0 - gear)
    return a[F_GEAR] * (gear + bump) * max(1.0 - a[KAPPA] * flap_share(a, flap_rad), 0.0)


@njit(cache=True, error_model="numpy")
def parasite_area(a: FloatArray, gear: float, flap_rad: float, cl: float) -> float:
    """Return the whole equivalent parasite area, m2, at lift coefficient ``cl``.

    The clean airplane's area may lean with CL: real polars are not quite parabolas, and a straight lean about the
    reference CL is the least that lets the runs say so.
    """
    clean = max(a[F_CLEAN] + a[CLEAN_SLOPE] * (cl - a[CL_REFERENCE]), 0.2 * a[F_CLEAN])
    return clean + gear_area(a, gear, flap_rad) + flap_area(a, flap_rad, cl)


@njit(cache=True, error_model="numpy")
def drag(a: FloatArray, speed: float, density: float, lift: float, gear: float, flap_rad: float) -> float:
    """Return drag, N: ``q f + L^2 / (q pi e b^2)`` at true airspeed ``speed`` (m/s) and ``density`` (kg/m3)."""
    q = 0.5 * density * speed * speed
    f = parasite_area(a, gear, flap_rad, lift / (q * a[WING_AREA]))
    return q * f + lift * lift / (q * math.pi * a[OSWALD] * a[SPAN] * a[SPAN])


@njit(cache=True, error_model="numpy")
def disk_thrust(disk_power: float, speed: float, density: float, disk_area: float) -> float:
    """Return the thrust, N, of an ideal disk that puts ``disk_power`` (W) into the air at ``speed`` (m/s).

    Actuator-disk momentum theory: ``P = T (V + w)``, ``T = 2 rho A w (V + w)``; with ``u = V + w`` this is the cubic
    ``2 rho A u^2 (u - V) = P``, solved by Newton from above, where it converges monotonically.
    """
    if disk_power <= 0.0:
        return 0.0
    k = disk_power / (2.0 * density * disk_area)
    u = speed + k ** (1.0 / 3.0)
    for _ in range(6):
        u -= (u * u * (u - speed) - k) / (u * (3.0 * u - 2.0 * speed))
    return disk_power / u


@njit(cache=True, error_model="numpy")
def disk_power_for(thrust: float, speed: float, density: float, disk_area: float) -> float:
    """Return the disk power, W, that gives ``thrust`` (N): ``T (V/2 + sqrt(V^2/4 + T / (2 rho A)))``."""
    return thrust * (0.5 * speed + math.sqrt(0.25 * speed * speed + thrust / (2.0 * density * disk_area)))


@njit(cache=True, error_model="numpy")
def power_share(a: FloatArray, density_ratio: float) -> float:
    """Return full-throttle power over sea-level power, ``(sigma - C) / (1 - C)``, never negative.

    Normally aspirated altitude relation of the 1930s engineering literature, C = 0.132/1.132; C = -inf is a
    flat-rated engine and is written as any value below -1e3.
    """
    if a[ALTITUDE_LAW] < -1.0e3:
        return 1.0
    return max((density_ratio - a[ALTITUDE_LAW]) / (1.0 - a[ALTITUDE_LAW]), 0.0)


@njit(cache=True, error_model="numpy")
def _polar_term(a: FloatArray, speed: float, density: float) -> float:
    """Return ``b rho D^2 (V_ref^2 - V^2)``, N: how a fixed-pitch propeller's thrust differs from that at V_ref."""
    diameter_squared = 4.0 * a[DISK_AREA] / math.pi
    return a[EFFICIENCY_SLOPE] * density * diameter_squared * (a[EFFICIENCY_SPEED] ** 2 - speed * speed)


@njit(cache=True, error_model="numpy")
def thrust_bend(a: FloatArray, speed: float) -> float:
    """Return the factor ``1 + c x^2 (1 - x^2)``, ``x = 2 (V - V_ref) / (V + V_ref)``, by which thrust leaves its law.

    ``x`` is near ``ln(V / V_ref)``; the bracket lets the bend end far away, where nobody has looked, and below
    0.4 V_ref it is held. Engines lose torque as they slow down and propeller polars are not quite straight: at a
    frozen throttle two propellers of the flight-dynamics library JSBSim leave a law of two numbers by 0.4 to 1.2 %,
    root mean square from 78 to 136 kt, and the bent one by 0.06 to 0.3 % (tests/accuracy/test_thrust_laws.py). One
    per cent of thrust can be four of a flap.
    """
    flown = max(speed, 0.4 * a[EFFICIENCY_SPEED])
    x = 2.0 * (flown - a[EFFICIENCY_SPEED]) / (flown + a[EFFICIENCY_SPEED])
    square = min(x * x, 1.0)
    return 1.0 + a[THRUST_BEND] * square * (1.0 - square)


@njit(cache=True, error_model="numpy")
def thrust(a: FloatArray, disk_power_at_reference: float, speed: float, density: float) -> float:
    """Return propeller thrust, N, at frozen levers, never negative.

    ``disk_power_at_reference`` (W) is the power reaching the disk at EFFICIENCY_SPEED. Away from it:

    * constant-speed propeller (law 0): the disk power follows ``(V / V_ref)^n``; n is near 0, above it when blade
      losses grow at low speed. Below 0.4 V_ref the factor is held.
    * fixed pitch (law 1): at constant engine torque, with the propeller polar ``CT/J^2 = m CP/J^2 + b`` a straight
      line, thrust is ``E - b' rho D^2 V^2`` with b' = -b (published relation of light-airplane performance theory;
      cited from memory). It follows from CP/J^2 = 2 pi Q / (rho D^3 V^2).

    Either is bent by :func:`thrust_bend`.
    """
    if a[PROPELLER_LAW] > 0.5:
        at_reference = disk_thrust(disk_power_at_reference, a[EFFICIENCY_SPEED], density, a[DISK_AREA])
        return max((at_reference + _polar_term(a, speed, density)) * thrust_bend(a, speed), 0.0)
    ratio = max(speed / a[EFFICIENCY_SPEED], 0.4)
    straight = disk_thrust(disk_power_at_reference * ratio ** a[EFFICIENCY_SLOPE], speed, density, a[DISK_AREA])
    return max(straight * thrust_bend(a, speed), 0.0)


@njit(cache=True, error_model="numpy")
def reference_disk_power(a: FloatArray, thrust_n: float, speed: float, density: float) -> float:
    """Return the disk power at EFFICIENCY_SPEED, W, for which :func:`thrust` gives ``thrust_n`` (N) at ``speed``."""
    straight = thrust_n / max(thrust_bend(a, speed), 0.05)
    if a[PROPELLER_LAW] > 0.5:
        at_reference = max(straight - _polar_term(a, speed, density), 1.0)
        return disk_power_for(at_reference, a[EFFICIENCY_SPEED], density, a[DISK_AREA])
    ratio = max(speed / a[EFFICIENCY_SPEED], 0.4)
    return disk_power_for(straight, speed, density, a[DISK_AREA]) / ratio ** a[EFFICIENCY_SLOPE]


@njit(cache=True, error_model="numpy")
def full_throttle_disk_power(a: FloatArray, density_ratio: float) -> float:
    """Return the disk power at EFFICIENCY_SPEED, W, with full throttle at the given density ratio."""
    return a[DISK_EFFICIENCY] * a[RATED_POWER] * power_share(a, density_ratio)


@njit(cache=True, error_model="numpy")
def cl_max(a: FloatArray, flap_rad: float) -> float:
    """Return the maximum lift coefficient, linear in flap angle between detents."""
    return by_angle(a, CL_MAXES, flap_rad)


@njit(cache=True, error_model="numpy")
def stall_speed(a: FloatArray, weight: float, density: float, flap_rad: float) -> float:
    """Return the stall speed, m/s true, at ``weight`` (N, already times load factor): ``sqrt(2 W/(rho S CLmax))``."""
    return math.sqrt(2.0 * weight / (density * a[WING_AREA] * cl_max(a, flap_rad)))


@njit(cache=True, error_model="numpy")
def lift_coefficient(a: FloatArray, alpha: float, flap_rad: float) -> float:
    """Return CL at ``alpha`` (rad from the clean wing's zero-lift line), flaps shifting the line up.

    The shift is taken as the flap's gain in CLmax: a plain statement that the stalling angle stays about the same.
    The result is not capped at CLmax; the caller decides what a stall means.
    """
    shift = cl_max(a, flap_rad) - a[CL_MAXES]
    return a[LIFT_SLOPE] * alpha + shift
