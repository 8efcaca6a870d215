"""A climb or glide at constant equivalent airspeed in the tests' own words, left to a general-purpose integrator.

Nothing of the package is used but the airplane in its own words: the atmosphere is written out, and the motion is that
of total energy ``h + V^2/2g`` against pressure altitude, so that no climb correction factor stands anywhere.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.integrate import solve_ivp

from tests.airplane.own_words import RHO0, G, OwnAirplane

T0, P0, LAPSE, R = 288.15, 101325.0, 0.0065, 287.05287


def own_density(altitude: float, warmer: float = 0.0) -> float:
    """Density [kg/m3] at a pressure altitude [m] and temperature deviation [K] (ICAO Doc 7488/3, troposphere)."""
    standard = T0 - LAPSE * altitude
    return P0 * (standard / T0) ** (G / (R * LAPSE)) / (R * (standard + warmer))


def own_rate(
    own: OwnAirplane,
    altitude: float,
    equivalent: float,
    mass: float,
    thrust: Callable[[float, float], float],
    warmer: float = 0.0,
    gear: float = 0.0,
    flap: float = 0.0,
    tailwind_gradient: float = 0.0,
    more_area: float = 0.0,
) -> float:
    """Rate of change of pressure altitude [m/s] at constant equivalent airspeed; ``thrust`` is of (speed, density)."""

    def speed_at(height: float) -> float:
        return float(equivalent * np.sqrt(RHO0 / own_density(height, warmer)))

    def kinetic(height: float) -> float:
        return speed_at(height) ** 2 / (2.0 * G)

    speed, density = speed_at(altitude), own_density(altitude, warmer)
    stretch = 1.0 + warmer / (T0 - LAPSE * altitude)  # geometric height per pressure altitude
    per_height = stretch + (kinetic(altitude + 1.0) - kinetic(altitude - 1.0)) / 2.0
    per_height += speed / G * tailwind_gradient * stretch
    weight, rate = mass * G, 0.0
    for _ in range(20):
        lift = weight * np.cos(np.arcsin(rate * stretch / speed))
        drag = own.drag(speed, density, float(lift), gear, flap) + 0.5 * density * speed**2 * more_area
        rate = (thrust(speed, density) - drag) * speed / weight / per_height
    return float(rate)


def own_climb(
    own: OwnAirplane,
    times: np.ndarray,
    start: float,
    equivalent: float,
    mass: float,
    thrust: Callable[[float, float], float],
    warmer: float = 0.0,
    **how: float,
) -> np.ndarray:
    """Pressure altitudes [m] at ``times`` from ``start``; ``how`` as :func:`own_rate`."""
    solved = solve_ivp(
        lambda _, y: [own_rate(own, float(y[0]), equivalent, mass, thrust, warmer, **how)],
        (float(times[0]), float(times[-1])),
        [start],
        "RK45",
        times,
        rtol=1e-8,
        atol=1e-6,
    )
    assert solved.status == 0, solved.message
    return np.asarray(solved.y[0])


def nothing(speed: float, density: float) -> float:
    """No thrust."""
    return 0.0
