"""Textbook relations for what a handbook does not print, each with its source. SI units."""

from __future__ import annotations

import math

from wringout.airplane.distribution import Prior
from wringout.units import STANDARD_GRAVITY

SEA_LEVEL_DENSITY_KGM3 = 1.225
"""ICAO Doc 7488/3."""

ALTITUDE_LAW_NORMAL = 0.132 / 1.132
"""C in ``P/P0 = (sigma - C)/(1 - C)`` = 1.132 sigma - 0.132, normally aspirated (1930s SAE literature)."""
FLAT_RATED = -1.0e4

SPAN_EFFICIENCY = Prior(0.75, 0.08, "lognormal", "common for light airplanes; value from memory, no source")
STALL_RATE_SLOPE = Prior(-0.02, 0.02, "normal", "stall speed per m/s2 of entry rate; from memory, no source")
PROPELLER_SLOPE = {
    "constant speed": Prior(0.10, 0.15, "normal", "propeller losses grow at low speed; width judged, no source"),
    "fixed pitch": Prior(0.040, 0.016, "lognormal", "propeller polar of light airplanes; from memory, wide, no source"),
}


def lift_slope_per_rad(aspect_ratio: float) -> float:
    """Return the wing's lift-curve slope, 1/rad: ``2 pi AR / (2 + sqrt(4 + AR^2))``.

    Helmbold's relation for unswept wings of low to moderate aspect ratio (Helmbold 1942; quoted in the standard
    aerodynamics textbooks).
    """
    return 2.0 * math.pi * aspect_ratio / (2.0 + math.sqrt(4.0 + aspect_ratio * aspect_ratio))


def lift_coefficient_at(mass_kg: float, equivalent_airspeed_mps: float, wing_area_m2: float) -> float:
    """Return CL in level flight: ``2 W / (rho0 V_e^2 S)``."""
    return 2.0 * mass_kg * STANDARD_GRAVITY / (SEA_LEVEL_DENSITY_KGM3 * equivalent_airspeed_mps**2 * wing_area_m2)


def polar_from_best_glide(
    ratio: float, equivalent_airspeed_mps: float, mass_kg: float, span_m: float
) -> tuple[float, float]:
    """Return ``(clean area m2, span efficiency)`` of the parabolic polar with this best glide.

    At best glide parasite drag equals induced drag, each half of ``W / ratio``: ``f = W / (2 q ratio)`` and
    ``e = (2 ratio)^2 f / (pi b^2)`` (from ``(L/D)max = b/2 sqrt(pi e / f)``, any performance textbook).
    """
    q = 0.5 * SEA_LEVEL_DENSITY_KGM3 * equivalent_airspeed_mps**2
    area = mass_kg * STANDARD_GRAVITY / (2.0 * q * ratio)
    return area, (2.0 * ratio) ** 2 * area / (math.pi * span_m**2)
