"""Arithmetic of climbs: energy height, rate for a gradient, and the steady climb of a configuration."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wringout.airplane.forces import drag, full_throttle_disk_power, stall_speed, thrust
from wringout.airplane.vector import MASS_FACTOR
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3, density_kgm3
from wringout.techniques.stated.types import FloatArray
from wringout.units import POUND, STANDARD_GRAVITY


@dataclass(frozen=True, slots=True)
class Requirement:
    """A climb gradient a regulation asks of the landing configuration: ``source`` says which, and how it was read."""

    gradient: float
    source: str


@dataclass(frozen=True, slots=True)
class BalkedLanding:
    """The steady climb in the landing configuration with full power, against what regulations ask.

    Attributes:
        gradient: ``tan gamma``. climb_rate_mps: ``V sin gamma``. speed_mps: true airspeed.
        requirement: what it is held against. margin: gradient less the required one.
    """

    gradient: float
    climb_rate_mps: float
    speed_mps: float
    requirement: Requirement
    margin: float


BALKED_LANDING_GRADIENT = 0.033
"""14 CFR 23.77(a), amendment 23-62 (no longer in force): reciprocating engine, 6,000 lb or less."""
BALKED_LANDING_GRADIENT_HEAVY = 0.025
"""14 CFR 23.77(b), amendment 23-62 (no longer in force): reciprocating engine, more than 6,000 lb."""
BALKED_LANDING_GRADIENT_CURRENT = 0.030
"""14 CFR 23.2120(c), amendment 23-64: gear extended, landing flap."""
HEAVY_KG = 6000.0 * POUND
"""Weight up to which 23.77(a) holds."""
QUICK_FLAPS_S = 2.0
"""Flaps that go up in no more than this, safely, may be taken as up by 14 CFR 23.77(a)(3)."""


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


def requirements(mass_kg: float) -> tuple[Requirement, ...]:
    """Return what is asked of a reciprocating engine at sea level with the gear down, by the older rule and the newer.

    23.77 was read as amended by 23-62 (a stored copy of the Code, 2011 to 2017), 23.2120 but for the figure of its
    paragraph (c), which is from memory.
    """
    if mass_kg <= HEAVY_KG + 1e-6:
        older = Requirement(BALKED_LANDING_GRADIENT, "14 CFR 23.77(a), amendments 23-50 to 23-62")
    else:
        older = Requirement(BALKED_LANDING_GRADIENT_HEAVY, "14 CFR 23.77(b), amendments 23-50 to 23-62")
    current = "14 CFR 23.2120(c), amendment 23-64 (its figure from memory)"
    return older, Requirement(BALKED_LANDING_GRADIENT_CURRENT, current)


def balked_landing(
    row: FloatArray,
    mass_kg: float,
    flap_rad: float,
    speed_factor: float = 1.3,
    pressure_altitude_m: float = 0.0,
    isa_deviation_k: float = 0.0,
) -> tuple[BalkedLanding, ...]:
    """Return the steady climb with gear down and landing flap against each of :func:`requirements`.

    14 CFR 23.77(a) asks it with take-off power, the gear extended, flaps in the landing position unless they can safely
    be retracted in two seconds or less, at VREF, which by 23.73(a) is not less than 1.3 times the stall speed in the
    landing configuration. This is a computed figure of a fitted airplane, not a showing of compliance.

    Args:
        row: parameter row. mass_kg: stated mass. flap_rad: landing flap. speed_factor: times the stall speed.

    Raises:
        BadInputError: altitude or temperature outside the standard atmosphere used here.
    """
    density = density_kgm3(pressure_altitude_m, isa_deviation_k)
    weight = mass_kg * row[MASS_FACTOR] * STANDARD_GRAVITY
    speed = speed_factor * float(stall_speed(row, weight, density, flap_rad))
    path = steady_climb_rad(row, mass_kg, pressure_altitude_m, isa_deviation_k, speed, 1.0, flap_rad)
    gradient = math.tan(path)
    return tuple(
        BalkedLanding(gradient, speed * math.sin(path), speed, asked, gradient - asked.gradient)
        for asked in requirements(mass_kg)
    )
