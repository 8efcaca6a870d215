"""The parabolic polar ``CD = CD0 + k CL^2`` in glide: best glide and minimum sink. SI floats, sea level."""

from __future__ import annotations

import math

from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3
from wringout.units import STANDARD_GRAVITY


def speed_at(cl: float, mass_kg: float, wing_m2: float) -> float:
    """Return the equivalent airspeed, m/s, of level flight at ``cl``: ``sqrt(2 W / (rho0 S CL))``."""
    return math.sqrt(2.0 * mass_kg * STANDARD_GRAVITY / (SEA_LEVEL_DENSITY_KGM3 * wing_m2 * cl))


def best_glide_ratio(cd0: float, k: float) -> float:
    """Return the best ratio of lift to drag, ``1 / (2 sqrt(CD0 k))``, where parasite and induced drag are equal."""
    return 0.5 / math.sqrt(cd0 * k)


def best_glide_speed_mps(cd0: float, k: float, mass_kg: float, wing_m2: float) -> float:
    """Return its equivalent airspeed, m/s, at ``CL = sqrt(CD0 / k)``."""
    return speed_at(math.sqrt(cd0 / k), mass_kg, wing_m2)


def minimum_sink_speed_mps(cd0: float, k: float, mass_kg: float, wing_m2: float) -> float:
    """Return the equivalent airspeed of least power needed, m/s, at ``CL = sqrt(3 CD0 / k)``."""
    return speed_at(math.sqrt(3.0 * cd0 / k), mass_kg, wing_m2)


def minimum_sink_mps(cd0: float, k: float, mass_kg: float, wing_m2: float) -> float:
    """Return the least sink at sea level, m/s: that speed over ``sqrt(3)/2`` of the best ratio (shallow glides)."""
    ratio = 0.5 * math.sqrt(3.0) * best_glide_ratio(cd0, k)
    return minimum_sink_speed_mps(cd0, k, mass_kg, wing_m2) / ratio
