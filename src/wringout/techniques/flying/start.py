"""The start of a trajectory: a state in equilibrium, and what the pilot aims for from there. Compiled."""

from __future__ import annotations

import math
from typing import Final

from wringout.airplane import vector as v
from wringout.airplane.forces import (
    by_angle,
    by_square,
    cl_max,
    flap_area_at_reference,
    gear_area,
    reference_disk_power,
    stall_speed,
)
from wringout.atmosphere import GAS_CONSTANT_AIR, LAPSE_RATE_K_PER_M, SEA_LEVEL_DENSITY_KGM3
from wringout.techniques.flying import layout as k
from wringout.techniques.flying.compiling import compiled, inlined
from wringout.techniques.flying.motion import (
    Case,
    Now,
    drag_at,
    ground_factor,
    inverses,
    lift_slope_at,
    thrust_at,
    wings_away,
)
from wringout.techniques.flying.polynomials import power_series
from wringout.techniques.stated.types import FloatArray
from wringout.units import STANDARD_GRAVITY

_DENSITY_EXPONENT = STANDARD_GRAVITY / (GAS_CONSTANT_AIR * LAPSE_RATE_K_PER_M) - 1.0
_SHORTEST_S: Final = 1e-3  # stands for "at once", so that no right-hand side jumps

# Start row: the fields of a Case, then these.
S_CASE: Final = len(Case._fields)
S_START_PITCH: Final = S_CASE  # rad
S_CLIMB_PITCH: Final = S_CASE + 1  # rad
S_ENTRY_EAS: Final = S_CASE + 2  # m/s
S_CLEAN_STALL: Final = S_CASE + 3  # m/s EAS
S_START_STALL: Final = S_CASE + 4  # m/s EAS
S_EAS_PER_CAS: Final = S_CASE + 5
S_SPEED: Final = S_CASE + 6  # m/s true
S_PATH: Final = S_CASE + 7  # rad
S_LIFT_TIME: Final = S_CASE + 8  # s, time constant of the path at a held attitude
S_POWER: Final = S_CASE + 9  # where the power lever stands: -1 none, 0 as at the start
S_SIZE: Final = S_CASE + 10


@inlined
def air_series(temperature_k: float, exponent: float) -> tuple[float, float]:
    """Return the coefficients (1/m, 1/m2) of ``(rho / rho_s) ** exponent`` against height near a level.

    The second-order series of ``rho / rho_s = (1 - L h / T_s)^(g / (R L) - 1)`` with the standard lapse rate L
    (hydrostatic air, ICAO Doc 7488/3); density within 1e-5 over 500 m, its inverse within 4e-5.
    """
    x, m = LAPSE_RATE_K_PER_M / temperature_k, _DENSITY_EXPONENT * exponent
    return -m * x, 0.5 * m * (m - 1.0) * x * x


@inlined
def case_at(b: FloatArray, lane: int, stride: int) -> Case:
    """Return the case whose fields stand ``stride`` apart from ``lane`` on."""
    return Case(
        b[lane],
        b[stride + lane],
        b[2 * stride + lane],
        b[3 * stride + lane],
        b[4 * stride + lane],
        b[5 * stride + lane],
        b[6 * stride + lane],
        b[7 * stride + lane],
        b[8 * stride + lane],
        b[9 * stride + lane],
        b[10 * stride + lane],
        b[11 * stride + lane],
        b[12 * stride + lane],
        b[13 * stride + lane],
        b[14 * stride + lane],
        b[15 * stride + lane],
        b[16 * stride + lane],
        b[17 * stride + lane],
        b[18 * stride + lane],
        b[19 * stride + lane],
        b[20 * stride + lane],
        b[21 * stride + lane],
        b[22 * stride + lane],
        b[23 * stride + lane],
        b[24 * stride + lane],
        b[25 * stride + lane],
        b[26 * stride + lane],
        b[27 * stride + lane],
        b[28 * stride + lane],
        b[29 * stride + lane],
        b[30 * stride + lane],
        b[31 * stride + lane],
        b[32 * stride + lane],
        b[33 * stride + lane],
        b[34 * stride + lane],
        b[35 * stride + lane],
        b[36 * stride + lane],
        b[37 * stride + lane],
        b[38 * stride + lane],
        b[39 * stride + lane],
        b[40 * stride + lane],
        b[41 * stride + lane],
        b[42 * stride + lane],
        b[43 * stride + lane],
        b[44 * stride + lane],
    )


@compiled
def prepare(a: FloatArray, p: FloatArray, c: FloatArray, s: FloatArray) -> None:
    """Fill the start row from a parameter row, a procedure row and a conditions row.

    Power at the start balances the start path, ``T = D + W sin gamma``, unless the procedure says none or full; a path
    it leaves open is the steady one. The attitude of the steady climb is that with full power at the entry speed,
    nothing moved.
    """
    weight = c[k.C_MASS] * a[v.MASS_FACTOR] * STANDARD_GRAVITY
    density, flap, gear = c[k.C_DENSITY], p[k.P_FLAP], p[k.P_GEAR]
    if math.isnan(c[k.C_ENTRY_EAS]):
        speed = c[k.C_ENTRY] * stall_speed(a, weight, density, flap)
    else:
        speed = c[k.C_ENTRY_EAS] * math.sqrt(SEA_LEVEL_DENSITY_KGM3 / density)
    _fill_case(a, p, c, weight, s)
    case = case_at(s, 0, 1)
    full = max(case.full_power + case.full_power_slope * density, 0.0)
    s[S_POWER] = 0.0
    if p[k.P_POWER] == k.START_NONE and p[k.P_DEAD_AREA] > 0.0:
        s[S_POWER] = -1.0
    elif p[k.P_POWER] == k.START_FULL:
        s[_START_POWER] = full
    case = case_at(s, 0, 1)
    path = p[k.P_PATH]
    if math.isnan(path):
        path = steady_path(case, _now(a, s[S_POWER], gear, flap), speed)
    if p[k.P_POWER] == k.START_BALANCED:
        held = _drag(case, _now(a, 0.0, gear, flap), speed, weight * math.cos(path))
        pull = max(held + weight * math.sin(path), 0.0)
        s[_START_POWER] = min(reference_disk_power(a, pull, speed, density), full)
    climb = steady_path(case_at(s, 0, 1), _now(a, 1.0, gear, flap), speed)
    s[S_SPEED], s[S_PATH] = speed, path
    s[S_START_PITCH] = path + _angle_of_attack(a, case, math.cos(path), speed, flap)
    s[S_CLIMB_PITCH] = climb + _angle_of_attack(a, case, math.cos(climb), speed, flap)
    s[S_ENTRY_EAS] = speed * math.sqrt(density / SEA_LEVEL_DENSITY_KGM3)
    s[S_CLEAN_STALL] = stall_speed(a, weight, SEA_LEVEL_DENSITY_KGM3, 0.0)
    s[S_START_STALL] = stall_speed(a, weight, SEA_LEVEL_DENSITY_KGM3, flap)
    s[S_EAS_PER_CAS] = c[k.C_EAS_PER_CAS]
    s[S_LIFT_TIME] = 2.0 * weight / (STANDARD_GRAVITY * density * speed * a[v.WING_AREA] * a[v.LIFT_SLOPE])


_START_POWER: Final = Case._fields.index("start_power")


@compiled
def _fill_case(a: FloatArray, p: FloatArray, c: FloatArray, weight: float, s: FloatArray) -> None:
    """Fill the fields of a Case; the power of the start is left at zero."""
    induced = 1.0 / (math.pi * a[v.OSWALD] * a[v.SPAN] * a[v.SPAN])
    density, temperature = c[k.C_DENSITY], c[k.C_TEMPERATURE]
    density_1, density_2 = air_series(temperature, 1.0)
    thin_1, thin_2 = air_series(temperature, -1.0)
    swell_1, swell_2 = air_series(temperature, -0.5)
    fixed = a[v.PROPELLER_LAW] > 0.5
    powers = power_series(0.0 if fixed else a[v.EFFICIENCY_SLOPE])
    polar = a[v.EFFICIENCY_SLOPE] * 4.0 * a[v.DISK_AREA] / math.pi if fixed else 0.0
    rated = a[v.DISK_EFFICIENCY] * a[v.RATED_POWER]
    full, full_slope = rated, 0.0
    if a[v.ALTITUDE_LAW] > -1.0e3:
        full = -rated * a[v.ALTITUDE_LAW] / (1.0 - a[v.ALTITUDE_LAW])
        full_slope = rated / (SEA_LEVEL_DENSITY_KGM3 * (1.0 - a[v.ALTITUDE_LAW]))
    case = Case(
        weight=weight,
        per_weight=1.0 / weight,
        density=density,
        density_1=density_1,
        density_2=density_2,
        thin=1.0 / density,
        thin_1=thin_1,
        thin_2=thin_2,
        swell=math.sqrt(SEA_LEVEL_DENSITY_KGM3 / density),
        swell_1=swell_1,
        swell_2=swell_2,
        wing_area=a[v.WING_AREA],
        two_per_wing=2.0 / a[v.WING_AREA],
        induced=induced,
        lift_induced=a[v.WING_AREA] * induced,
        clean_area=a[v.F_CLEAN],
        clean_slope=a[v.CLEAN_SLOPE],
        cl_reference=a[v.CL_REFERENCE],
        lift_slope=a[v.LIFT_SLOPE],
        fixed_pitch=a[v.PROPELLER_LAW],
        per_two_disks=0.5 / a[v.DISK_AREA],
        powers=powers[0],
        powers_2=powers[1],
        powers_3=powers[2],
        powers_4=powers[3],
        powers_5=powers[4],
        powers_6=powers[5],
        powers_7=powers[6],
        powers_8=powers[7],
        reference_speed=a[v.EFFICIENCY_SPEED],
        per_reference_speed=1.0 / a[v.EFFICIENCY_SPEED],
        polar=polar,
        thrust_bend=a[v.THRUST_BEND],
        start_power=0.0,
        full_power=full,
        full_power_slope=full_slope,
        dead_area=p[k.P_DEAD_AREA],
        per_path_time=1.0 / p[k.P_PATH_TIME],
        per_speed_time=1.0 / p[k.P_SPEED_TIME],
        room_high=p[k.P_LOAD_HIGH] - 1.0,
        room_low=1.0 - p[k.P_LOAD_LOW],
        path_rate=p[k.P_PATH_RATE],
        ground=p[k.P_HEIGHT] + p[k.P_WING_HEIGHT],
        sixteen_spans=16.0 / a[v.SPAN],
        friction=p[k.P_FRICTION],
    )
    for j, value in enumerate(case):
        s[j] = value


@compiled
def _now(a: FloatArray, power: float, gear: float, flap: float) -> Now:
    """Return what acts with both devices at rest; the pilot's part is left empty."""
    legs, area = gear_area(a, gear, flap), flap_area_at_reference(a, flap)
    slope, least = by_angle(a, v.FLAP_SLOPES, flap), by_square(a, v.FLAP_FLOORS, flap)
    most = cl_max(a, flap)
    return Now(power, 0.0, legs, area, slope, least, most - a[v.CL_MAXES], most, 1.0 / most, 0.0, 0.0, 0.0)


@compiled
def _angle_of_attack(a: FloatArray, case: Case, cosine: float, speed: float, flap: float) -> float:
    """Return the angle of attack, rad, that carries ``W cos gamma``, with the lift slope of this height."""
    cl = case.weight * cosine / (0.5 * case.density * speed * speed * case.wing_area)
    away = wings_away(case, 0.0)
    slope = lift_slope_at(case, away, inverses(case, speed, case.density, away))
    angle: float = (cl - (cl_max(a, flap) - a[v.CL_MAXES])) / slope
    return angle


@compiled
def _drag(case: Case, now: Now, speed: float, lift: float) -> float:
    """Return drag, N, at the height of the start."""
    pressure = 0.5 * case.density * speed * speed
    return drag_at(case, now, pressure, 1.0 / (pressure * case.wing_area), lift, ground_factor(case, 0.0))


@compiled
def steady_path(case: Case, now: Now, speed: float) -> float:
    """Return the path, rad, of the unaccelerated flight: ``sin gamma = (T - D) / W``, by iteration on the lift."""
    pull = thrust_at(case, now.power, speed, 0.0).thrust
    path = 0.0
    for _ in range(6):
        sine = (pull - _drag(case, now, speed, case.weight * math.cos(path))) * case.per_weight
        path = math.asin(min(max(sine, -0.9), 0.9))
    return path
