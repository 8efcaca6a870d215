"""The right-hand side: equations of motion of a point mass, wings level, with the pilot in the loop. Compiled.

Written once. The lanes of the batch, the single trajectory for a figure and the moments of change all call `rates`; in
float32 or float64, whatever its arguments are. It takes numbers and returns numbers, has no branch a vector unit could
not take, calls no library function but one square root, and divides seldom (see `inverses`).

Thrust and the rest are two functions, because a vector unit overlaps two short chains of arithmetic better than one
long one.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3
from wringout.techniques.flying.compiling import inlined
from wringout.techniques.flying.polynomials import arcsine, cosine, disk_share, sine
from wringout.units import STANDARD_GRAVITY

MODE_ATTITUDE: Final = 0
MODE_SPEED: Final = 1
MODE_PATH: Final = 2
_STEEPEST: Final = 0.5  # largest sine of a flight path the pilot asks for
_SLOWEST_MPS: Final = 5.0  # far below any stall; keeps the equations finite after one
_LEAST_CLEAN: Final = 0.2  # share of the clean area below which its lean with CL is not believed


Part = bool | None
"""Whether the equations have a part: None where nothing needs it, so that it is not even compiled."""


class Case(NamedTuple):
    """What does not change during a trajectory, SI. ``induced`` is 1/(pi e b2), ``lift_induced`` 1/(pi A e).

    ``full_power`` and its ``_slope`` give disk power with full throttle over density; ``ground`` is the height of the
    wing above the runway at the start, very large where no runway is modelled. A name with ``per_`` is an inverse.
    ``density``, ``thin`` (its inverse) and ``swell`` (true over equivalent airspeed) are those of the start; their
    ``_1`` and ``_2`` are the coefficients of their series in height. ``powers`` and the seven after it are the
    coefficients of ``(V / V_ref)^n`` in ``(V - V_ref) / (V + V_ref)``; see `polynomials.power_series`.
    """

    weight: float
    per_weight: float
    density: float
    density_1: float
    density_2: float
    thin: float
    thin_1: float
    thin_2: float
    swell: float
    swell_1: float
    swell_2: float
    wing_area: float
    two_per_wing: float
    induced: float
    lift_induced: float
    clean_area: float
    clean_slope: float
    cl_reference: float
    lift_slope: float
    fixed_pitch: float
    per_two_disks: float
    powers: float
    powers_2: float
    powers_3: float
    powers_4: float
    powers_5: float
    powers_6: float
    powers_7: float
    powers_8: float
    reference_speed: float
    per_reference_speed: float
    polar: float
    thrust_bend: float
    start_power: float
    full_power: float
    full_power_slope: float
    dead_area: float
    per_path_time: float
    per_speed_time: float
    room_high: float
    room_low: float
    path_rate: float
    ground: float
    sixteen_spans: float
    friction: float


class Now(NamedTuple):
    """What acts on the airplane at one time besides its state: levers, devices and the pilot's aim.

    ``power`` runs from -1 (none) by 0 (that of the start) to 1 (full throttle); areas, shift of the lift line and CLmax
    are those of gear and flaps at this moment; ``aim`` is an equivalent airspeed, m/s, or a path, rad, by ``mode``.
    """

    power: float
    pitch: float
    gear_area: float
    flap_area: float
    flap_slope: float
    flap_floor: float
    shift: float
    cl_max: float
    per_cl_max: float
    mode: float
    aim: float
    rolling: float


class Rates(NamedTuple):
    """Rates of the state (true airspeed, path, height, distance) and the forces they come from, SI.

    ``load`` is lift over lift at CLmax, ``cl`` the coefficient of the lift asked for.
    """

    speed: float
    path: float
    climb: float
    along: float
    lift: float
    most: float
    asked: float
    thrust: float
    drag: float
    load: float
    cl: float


class Pull(NamedTuple):
    """Propeller thrust, N, and its slope in true airspeed, N s/m, good to a few per cent: for a small change."""

    thrust: float
    slope: float


class Air(NamedTuple):
    """The air at a height: density, kg/m3, its inverse ``thin``, and true over equivalent airspeed ``swell``."""

    density: float
    thin: float
    swell: float


class Wing(NamedTuple):
    """What the wing meets: the inverses of V and of rho V, induced drag over that far from the ground, lift slope."""

    per_speed: float
    per_flow: float
    near: float
    slope: float


class Inverses(NamedTuple):
    """What the equations divide by, inverted: see :func:`inverses`."""

    speed: float
    flow: float
    away: float
    bound: float


@inlined
def air_at(c: Case, height: float) -> Air:
    """Return the air at a height (m) above the start: the series made by `start.air_series`."""
    one = type(height)(1.0)
    return Air(
        c.density * (one + height * (c.density_1 + height * c.density_2)),
        c.thin * (one + height * (c.thin_1 + height * c.thin_2)),
        c.swell * (one + height * (c.swell_1 + height * c.swell_2)),
    )


@inlined
def wings_away(c: Case, height: float) -> float:
    """Return ``(16 h/b)^2`` with the height h of the wing above the runway; see :func:`ground_factor`."""
    x = max(c.ground + height, type(height)(0.0)) * c.sixteen_spans
    return x * x


@inlined
def ground_factor(c: Case, height: float) -> float:
    """Return induced drag near the ground over that far from it: ``(16 h/b)^2 / (1 + (16 h/b)^2)``, h of the wing.

    The relation of a horseshoe vortex and its image, as printed in McCormick, "Aerodynamics, Aeronautics and Flight
    Mechanics" (cited from memory). The same factor acts on the induced angle of attack.
    """
    away = wings_away(c, height)
    return away / (type(height)(1.0) + away)


@inlined
def inverses(c: Case, speed: float, density: float, away: float) -> Inverses:
    """Return the inverses of V, of ``rho V``, of ``1 + (16 h/b)^2`` and of the lift line's bound, by one division.

    The bound is ``1 - a (1 - near) / (pi A e)`` times ``1 + away``; see :func:`lift_slope_at`.
    """
    one = type(speed)(1.0)
    beyond, flow = one + away, density * speed
    bound = beyond - c.lift_slope * c.lift_induced
    both = beyond * bound
    of_all = one / (flow * both)
    of_both, of_flow = of_all * flow, of_all * both
    return Inverses(of_flow * density, of_flow, of_both * bound, of_both * beyond)


@inlined
def thrust_at(c: Case, power: float, true_speed: float, height: float) -> Pull:
    """Return propeller thrust, N, never negative, by the laws of `wringout.airplane.forces.thrust`, and its slope.

    Constant speed: disk power follows ``(V / V_ref)^n``, held below 0.4 V_ref, and the disk is ideal, ``T = P / u``.
    Fixed pitch: ideal at V_ref, and a straight propeller polar away from it. Either is bent, ``1 + c x^2 (1 - x^2)``.
    With ``z = V / u`` the slope of the ideal disk is ``T / V (n (2 - z) - z) / (3 - 2 z)``; a parabola stands for
    ``1 / (3 - 2 z)``, to 2 per cent.
    """
    real = type(true_speed)
    zero, one = real(0.0), real(1.0)
    speed, air = max(true_speed, real(_SLOWEST_MPS)), air_at(c, height)
    full = max(c.full_power + c.full_power_slope * air.density, zero)
    watts = c.start_power * (one - abs(power)) + full * max(power, zero)
    turning = max(speed, real(0.4) * c.reference_speed)
    both = turning + c.reference_speed
    of_all = one / (speed * both)
    per_speed, part = of_all * both, (turning - c.reference_speed) * (of_all * speed)
    fixed = c.fixed_pitch > real(0.5)
    per_flown = c.per_reference_speed if fixed else per_speed
    loading = air.thin * c.per_two_disks * (per_flown * per_flown * per_flown)
    watts = watts * power_of(part, c)
    z = disk_share(watts * loading)
    pull = watts * per_flown * z
    polar = c.polar * air.density
    leaning = polar * (c.reference_speed * c.reference_speed - speed * speed)
    part_of = real(0.436) + z * (real(-0.325) + z * real(0.866))
    ideal = pull * per_speed * part_of * (real(0.5) * c.powers * (real(2.0) - z) - z)
    straight, slope = pull + (leaning if fixed else zero), real(-2.0) * polar * speed if fixed else ideal
    x, per_both = part + part, of_all * speed
    y = min(x * x, one)
    bend = one + c.thrust_bend * (y * (one - y))
    leaned = c.thrust_bend * x * (one - (y + y)) * (c.reference_speed * (per_both * per_both))
    slope = slope * bend + straight * (real(8.0) * leaned)
    running = one if watts > zero else zero
    return Pull(max(straight * bend, zero) * running, slope * running)


@inlined
def power_of(part: float, c: Case) -> float:
    """Return ``(V / V_ref)^n`` by its series in ``part``, n up to 0.5 either way.

    To 2e-6 for V from 0.6 to 1.7 V_ref, to 3e-4 from 0.4 to 2.2 V_ref, where nobody flies.
    """
    real = type(part)
    y = part * part
    z = y * y
    low = (real(1.0) + part * c.powers) + y * (c.powers_2 + part * c.powers_3)
    high = (c.powers_4 + part * c.powers_5) + y * (c.powers_6 + part * c.powers_7)
    return low + z * (high + z * c.powers_8)


@inlined
def drag_at(c: Case, u: Now, pressure: float, per_area: float, lift: float, near: float) -> float:
    """Return drag, N: ``q f(CL) + L^2 / (q pi e b^2)``, induced drag times the ground factor ``near``.

    ``pressure`` is q, ``per_area`` is 1 / (q S). ``f`` is the clean area with its lean, the gear behind the flap, the
    flap with its slope in CL and its floor, and a dead engine.
    """
    real = type(pressure)
    cl = lift * per_area
    apart = cl - c.cl_reference
    clean = max(c.clean_area + c.clean_slope * apart, real(_LEAST_CLEAN) * c.clean_area)
    flaps = max(u.flap_area + u.flap_slope * apart, u.flap_floor)
    dead = c.dead_area * max(-u.power, real(0.0))
    rest = u.gear_area + dead
    return pressure * ((clean + flaps) + rest) + lift * (cl * (c.lift_induced * near))


@inlined
def limited_load_factor(c: Case, wanted: float, speed: float) -> float:
    """Return the load factor flown for the one wanted, approaching the pilot's limits smoothly.

    ``n = 1 + x / sqrt(1 + (x / b)^2)`` with ``x = wanted - 1`` and ``b`` the room to the limit on that side, or what
    the pilot's largest rate of the path allows, ``V gamma' / g``, if that is less: slope 1 near 1 g, never beyond.
    """
    real = type(wanted)
    x = wanted - real(1.0)
    room = c.room_high if x >= real(0.0) else c.room_low
    room = min(room, speed * c.path_rate * real(1.0 / STANDARD_GRAVITY))
    bent: float = real(1.0) + x * room / np.sqrt(room * room + x * x)
    return bent


@inlined
def lift_slope_at(c: Case, away: float, per: Inverses) -> float:
    """Return the slope of the lift line, 1/rad: near the ground ``1 / (1/a - (1 - near) / (pi A e))``."""
    return c.lift_slope * (type(away)(1.0) + away) * per.bound


@inlined
def wing_at(c: Case, speed: float, density: float, height: float, ground: Part) -> Wing:
    """Return what the wing meets at a true airspeed, in air of a density, at a height; without a runway, no ground."""
    if ground is None:
        per_flow = type(speed)(1.0) / (density * speed)
        return Wing(per_flow * density, per_flow, type(speed)(1.0), c.lift_slope)
    away = wings_away(c, height)
    per = inverses(c, speed, density, away)
    return Wing(per.speed, per.flow, away * per.away, lift_slope_at(c, away, per))


@inlined
def lift_held(u: Now, path: float, lifting: float, slope: float) -> float:
    """Return the lift of the wing at an attitude, N: at ``alpha = pitch - gamma``, ``CL = slope alpha + shift``.

    Raising flaps loses lift and the airplane sinks. ``lifting`` is q S.
    """
    return lifting * (slope * (u.pitch - path) + u.shift)


@inlined
def lift_bent(c: Case, u: Now, speed: float, path: float, rise_wanted: float, level: float) -> float:
    """Return the lift, N, that bends the path to the wanted one with the pilot's time constant.

    ``rise_wanted`` is the sine of the path for a wanted airspeed, ``level`` is cos gamma.
    """
    real = type(speed)
    steep = min(max(rise_wanted, real(-_STEEPEST)), real(_STEEPEST))
    wanted_path = arcsine(steep) if u.mode == real(MODE_SPEED) else u.aim
    wanted = level + speed * (wanted_path - path) * c.per_path_time * real(1.0 / STANDARD_GRAVITY)
    bent: float = c.weight * limited_load_factor(c, wanted, speed)
    return bent


@inlined
def rates(
    c: Case, u: Now, true_speed: float, path: float, height: float, pull: float, ground: Part, held: Part, bent: Part
) -> Rates:
    """Return the rates of the state and the forces they come from; ``pull`` is thrust, N.

    ``dV/dt = (T - D) / m - g sin gamma``, ``dgamma/dt = (L - W cos gamma) / (m V)``, ``dh/dt = V sin gamma``,
    ``dx/dt = V cos gamma`` (point mass in a vertical plane, thrust along the path; any performance textbook). The path
    for a wanted airspeed is that of ``dV/dt = g (excess - sin gamma) = (V_wanted - V) / tau``. Lift is capped at CLmax;
    what a real airplane does after the stall is not modelled. Rolling on the runway, the path cannot go below it and
    the wheels hold back with friction times the weight on them.

    ``ground``, ``held`` and ``bent`` say what there is: a runway, an attitude that is held, a path that the pilot
    bends. None leaves it out, and the time it takes.
    """
    real = type(true_speed)
    zero, g = real(0.0), real(STANDARD_GRAVITY)
    speed = max(true_speed, real(_SLOWEST_MPS))
    rise, forth = sine(path), cosine(path)
    air = air_at(c, height)
    wing = wing_at(c, speed, air.density, height, ground)
    pressure = real(0.5) * air.density * speed * speed
    per_area, lifting = c.two_per_wing * wing.per_flow * wing.per_speed, pressure * c.wing_area
    if bent is None:
        asked = lift_held(u, path, lifting, wing.slope)
    else:
        excess = (pull - drag_at(c, u, pressure, per_area, c.weight * forth, wing.near)) * c.per_weight
        faster = (u.aim * air.swell - speed) * c.per_speed_time * real(1.0 / STANDARD_GRAVITY)
        asked = lift_bent(c, u, speed, path, excess - faster, forth)
        if held is not None:
            asked = lift_held(u, path, lifting, wing.slope) if u.mode == real(MODE_ATTITUDE) else asked
    most = lifting * u.cl_max
    lift = min(asked, most)
    held_back = drag_at(c, u, pressure, per_area, lift, wing.near)
    path_rate = g * (lift * c.per_weight - forth) * wing.per_speed
    if ground is not None:
        held_back += c.friction * (max(c.weight * forth - lift, zero) * u.rolling)
        path_rate = max(path_rate, zero) if (u.rolling > zero) & (path <= zero) else path_rate
    speed_rate = g * ((pull - held_back) * c.per_weight - rise)
    cl = asked * per_area
    load = real(1.0) if asked >= most else cl * u.per_cl_max
    return Rates(speed_rate, path_rate, speed * rise, speed * forth, lift, most, asked, pull, held_back, load, cl)


@inlined
def equivalent_airspeed(c: Case, speed: float, height: float) -> float:
    """Return equivalent airspeed, m/s, at a true airspeed and a height above the start: ``V rho / rho_0 swell``."""
    air = air_at(c, height)
    return speed * air.density * air.swell * type(speed)(1.0 / SEA_LEVEL_DENSITY_KGM3)
