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
    "fixed pitch": Prior(0.040, 0.020, "lognormal", "propeller polar of light airplanes; from memory, wide, no source"),
}
THRUST_BEND = Prior(0.0, 0.6, "normal", "-0.7 to 0.4 with propellers of the JSBSim library, else judged; no source")


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
    ratio: float,
    equivalent_airspeed_mps: float,
    mass_kg: float,
    span_m: float,
    wing_area_m2: float = 1.0,
    lean_m2: float = 0.0,
    cl_reference: float = 0.0,
) -> tuple[float, float]:
    """Return ``(clean area m2, span efficiency)`` of the polar with this best glide.

    With ``S CD = f + s (CL - CL_ref) + S K CL^2`` and ``K = S / (pi e b^2)``, at best glide ``CD = CL / ratio`` and
    ``dCD/dCL = CD / CL``; hence ``K = (CD - s CL / S) / (2 CL^2)`` and ``f = S K CL^2 + s CL_ref``. Without a lean
    ``s`` this is the textbook result: parasite drag equals induced drag, ``(L/D)max = b/2 sqrt(pi e / f)``. A lean that
    would leave less than a fifth of the drag to lift is held there.
    """
    lift = mass_kg * STANDARD_GRAVITY
    cl = lift / (0.5 * SEA_LEVEL_DENSITY_KGM3 * equivalent_airspeed_mps**2 * wing_area_m2)
    cd = cl / ratio
    k = max((cd - lean_m2 * cl / wing_area_m2) / (2.0 * cl * cl), 0.1 * cd / (cl * cl))
    area = wing_area_m2 * k * cl * cl + lean_m2 * cl_reference
    return max(area, 0.1 * wing_area_m2 * cd), wing_area_m2 / (math.pi * k * span_m**2)
