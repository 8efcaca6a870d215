"""Arithmetic of climbs: energy height, rate for a gradient, and the steady climb of a configuration."""

from __future__ import annotations

import math

from wringout.airplane.forces import drag, full_throttle_disk_power, thrust
from wringout.airplane.vector import MASS_FACTOR
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3, density_kgm3
from wringout.techniques.types import FloatArray
from wringout.units import STANDARD_GRAVITY

BALKED_LANDING_GRADIENT = 0.033
"""14 CFR 23.77(a), amendment 23-62 (no longer in force): reciprocating engine, 6,000 lb or less."""
BALKED_LANDING_GRADIENT_CURRENT = 0.030
"""14 CFR 23.2120(c), amendment 23-64: gear extended, landing flap."""


def energy_height_m(height_m: float, true_airspeed_mps: float) -> float:
    """Return energy height, m: ``h + V^2 / 2g``."""
    return height_m + true_airspeed_mps**2 / (2.0 * STANDARD_GRAVITY)


def climb_rate_mps(true_airspeed_mps: float, gradient: float) -> float:
    """Return the still-air rate of climb, m/s, of a gradient (height over horizontal distance): ``V sin(atan g)``."""
    return true_airspeed_mps * math.sin(math.atan(gradient))


def steady_climb_rad(
    row: FloatArray,
    mass_kg: float,
    pressure_altitude_m: float,
    isa_deviation_k: float,
    true_airspeed_mps: float,
    gear: float,
    flap_rad: float,
) -> float:
    """Return the angle, rad, of the steady climb with full throttle: ``sin gamma = (T - D) / W``, unaccelerated.

    Its tangent is the climb gradient of the regulations. Lift is ``W cos gamma``, found by iteration.

    Raises:
        BadInputError: altitude or temperature outside the standard atmosphere used here.
    """
    weight = mass_kg * row[MASS_FACTOR] * STANDARD_GRAVITY
    density = density_kgm3(pressure_altitude_m, isa_deviation_k)
    pull: float = thrust(
        row, full_throttle_disk_power(row, density / SEA_LEVEL_DENSITY_KGM3), true_airspeed_mps, density
    )
    path = 0.0
    for _ in range(20):
        held: float = drag(row, true_airspeed_mps, density, weight * math.cos(path), gear, flap_rad)
        path = math.asin(min(max((pull - held) / weight, -1.0), 1.0))
    return path
