"""Speed against time of a near-level run at frozen power: the equation of motion, integrated. Compiled, SI floats."""

from __future__ import annotations

import numpy as np
from numba import njit

from wringout.airplane.forces import drag, reference_disk_power, thrust
from wringout.airplane.vector import FloatArray

GRAVITY = 9.80665
STEP_S = 2.0
GEAR_STEP_S = 0.5
FLAP_STEP_S = 0.1
SLOWEST_MPS = 15.0
"""Speed is held here below, where the model has no meaning."""
STANDS = 1.0e-9
"""Movement below this, of gear position or flap angle [rad], is rounding: a device that has arrived stands."""


@njit(cache=True, error_model="numpy")
def position_at(time: float, knots_t: FloatArray, knots_x: FloatArray) -> float:
    """Return a device's position at ``time``: linear between knots, held outside them."""
    if time <= knots_t[0]:
        return knots_x[0]
    for i in range(1, knots_t.size):
        if time <= knots_t[i]:
            span = knots_t[i] - knots_t[i - 1]
            return knots_x[i - 1] + (knots_x[i] - knots_x[i - 1]) * (time - knots_t[i - 1]) / span
    return knots_x[knots_x.size - 1]


@njit(cache=True, error_model="numpy")
def next_knot(time: float, limit: float, knots_t: FloatArray) -> float:
    """Return the first knot after ``time`` and before ``limit``, else ``limit``."""
    for i in range(knots_t.size):
        if time < knots_t[i] < limit:
            return knots_t[i]
    return limit


@njit(cache=True, error_model="numpy")
def climb_rate_at(time: float, climb: FloatArray) -> float:
    """Return the climb rate, m/s: polynomial in ``time``, ``climb[0] + climb[1] t + ...``, held before time 0."""
    rate, since = 0.0, max(time, 0.0)
    for i in range(climb.size - 1, -1, -1):
        rate = rate * since + climb[i]
    return rate


@njit(cache=True, error_model="numpy")
def acceleration(
    a: FloatArray,
    speed: float,
    time: float,
    mass: float,
    density: float,
    disk_power: float,
    climb: FloatArray,
    gear_t: FloatArray,
    gear_x: FloatArray,
    flap_t: FloatArray,
    flap_x: FloatArray,
) -> float:
    """Return dV/dt, m/s2: ``(T - D)/m - (g/V) dh/dt``, from ``d/dt (h + V^2/2g) = (T - D) V / W``."""
    gear = position_at(time, gear_t, gear_x)
    flap = position_at(time, flap_t, flap_x)
    net = thrust(a, disk_power, speed, density) - drag(a, speed, density, mass * GRAVITY, gear, flap)
    return net / mass - GRAVITY / speed * climb_rate_at(time, climb)


@njit(cache=True, error_model="numpy")
def speed_history(
    a: FloatArray,
    times: FloatArray,
    entry_speed: float,
    entry_acceleration: float,
    mass: float,
    density: float,
    climb: FloatArray,
    gear_t: FloatArray,
    gear_x: FloatArray,
    flap_t: FloatArray,
    flap_x: FloatArray,
    out: FloatArray,
) -> None:
    """Fill ``out`` with true airspeed, m/s, at the rising ``times`` (s), starting at ``entry_speed`` at times[0].

    The power stays as it was at entry, where thrust balanced drag but for ``entry_acceleration`` (m/s2) and the
    climb there. ``climb`` is the climb-rate polynomial about time 0. Classical fourth-order Runge-Kutta, steps of at
    most STEP_S that end where a device starts or stops, so that the answer is smooth in their times, and shorter ones
    while it travels, since flap drag bends at every setting passed. Speed is held at
    SLOWEST_MPS below.
    """
    start = times[0]
    weight = mass * GRAVITY
    clean = drag(
        a, entry_speed, density, weight, position_at(start, gear_t, gear_x), position_at(start, flap_t, flap_x)
    )
    needed = clean + mass * entry_acceleration + weight / entry_speed * climb_rate_at(start, climb)
    power = reference_disk_power(a, max(needed, 1.0), entry_speed, density)
    t, v = start, entry_speed
    out[0] = v
    for i in range(1, times.size):
        while t < times[i]:
            end = next_knot(t, min(next_knot(t, times[i], gear_t), times[i]), flap_t)
            longest = STEP_S
            if abs(position_at(end, gear_t, gear_x) - position_at(t, gear_t, gear_x)) > STANDS:
                longest = GEAR_STEP_S
            if abs(position_at(end, flap_t, flap_x) - position_at(t, flap_t, flap_x)) > STANDS:
                longest = FLAP_STEP_S
            steps = max(int((end - t) / longest + 0.999999), 1)
            h = (end - t) / steps
            for _ in range(steps):
                k1 = acceleration(a, v, t, mass, density, power, climb, gear_t, gear_x, flap_t, flap_x)
                k2 = acceleration(
                    a, v + 0.5 * h * k1, t + 0.5 * h, mass, density, power, climb, gear_t, gear_x, flap_t, flap_x
                )
                k3 = acceleration(
                    a, v + 0.5 * h * k2, t + 0.5 * h, mass, density, power, climb, gear_t, gear_x, flap_t, flap_x
                )
                k4 = acceleration(a, v + h * k3, t + h, mass, density, power, climb, gear_t, gear_x, flap_t, flap_x)
                v = max(v + h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4), SLOWEST_MPS)
                t += h
            t = end
        out[i] = v


@njit(cache=True, error_model="numpy", nogil=True)
def speed_histories(
    rows: FloatArray,
    times: FloatArray,
    starts: FloatArray,
    entries: FloatArray,
    masses: FloatArray,
    density: float,
    climbs: FloatArray,
    gear_t: FloatArray,
    gear_x: FloatArray,
    flap_t: FloatArray,
    flap_x: FloatArray,
    out: FloatArray,
) -> None:
    """Fill ``out`` (k, n) with the speed histories of k candidates at the same ``times`` (n,); see `speed_history`.

    ``rows`` (k, SIZE), ``starts`` (k,) where each motion starts (s, at or before ``times[0]``), ``entries`` (k, 2)
    entry speed and acceleration, ``masses`` (k,), ``climbs`` (k, c), and the devices' knots (k, g) or (k, f).
    """
    for i in range(rows.shape[0]):
        early = starts[i] < times[0]
        grid = np.concatenate((starts[i : i + 1], times)) if early else times
        speeds = np.empty(grid.size)
        speed_history(
            rows[i], grid, entries[i, 0], entries[i, 1], masses[i], density, climbs[i],
            gear_t[i], gear_x[i], flap_t[i], flap_x[i], speeds,
        )  # fmt: skip
        out[i] = speeds[1:] if early else speeds
