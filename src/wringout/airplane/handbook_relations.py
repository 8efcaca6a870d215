"""Textbook relations from a handbook's figures to beliefs, each with its source and an honest width. SI units."""

from __future__ import annotations

import math

from wringout.airplane.distribution import Prior
from wringout.units import STANDARD_GRAVITY

GEAR_FACTOR_UP = 5.81e-5
GEAR_FACTOR_FULL_FLAP = 3.16e-5
"""K_uc of the textbook gear formula with flaps up and with full flaps, for N/m2 and kg."""
GEAR_ON_LIGHT_AIRPLANES = 2.2
"""A published flight measurement of a light retractable over the formula: 4.29 ft2 against 1.91 ft2 (2.2 times flaps
up, 2.8 times behind full flaps; U.S. Naval Academy technical note on partial-span flaps, Table 2)."""
GEAR_WIDTH = 0.45
FLAP_FACTORS = {"plain": 1.7, "split": 1.7, "slotted": 0.9, "unknown": 1.3}
"""Lambda of the textbook flap formula; "unknown" lies between the kinds (judged)."""
FLAP_ON_LIGHT_AIRPLANES = 1.5
"""A published flight measurement over the formula with lambda 1.3: 1.3, 1.7 and 1.9 times at 10, 20 and 32 deg (same
note, Table 1); taken nearer to one, since it is a single airplane."""
FLAP_WIDTH = 0.6
PROPELLER_SHARES = {
    "windmilling": (0.05, 0.03),
    "stopped": (0.03, 0.02),
    "feathered": (0.01, 0.01),
    "zero thrust": (0.0, 0.0),
}
"""Drag area of a propeller without power over its disk area, with standard uncertainty. Judged: a windmilling propeller
is commonly said to cost a light airplane about a fifth of its glide ratio (common practice, no source)."""
MOST_OF_GLIDE = 0.5
CLEAN_COEFFICIENT = {True: (0.025, 0.007), False: (0.033, 0.009)}
"""Parasite drag coefficient of retractables (True) and of airplanes with fixed gear; from memory, no source."""
CL_MAX_TYPICAL = {"clean": (1.45, 0.17), "full": (2.0, 0.3)}
"""Maximum lift coefficients of light airplanes; from memory, no source."""


def gear_area_by_formula(mass_kg: float, wing_area_m2: float, flap_share: float = 0.0) -> float:
    """Return the gear's drag area, m2, of the textbook formula: ``S (W/S) K_uc m^-0.215``.

    Correlated on civil transports (J. D. Anderson, Aircraft Performance and Design, eq. 6.76, quoting earlier work;
    both constants read in an excerpt). K_uc goes in a straight line from flaps up to full flaps (our choice).

    Args:
        mass_kg: maximum mass.
        wing_area_m2: reference area.
        flap_share: flap angle over full flap angle, 0 to 1.
    """
    factor = GEAR_FACTOR_UP + flap_share * (GEAR_FACTOR_FULL_FLAP - GEAR_FACTOR_UP)
    return float(wing_area_m2 * (mass_kg * STANDARD_GRAVITY / wing_area_m2) * factor * mass_kg**-0.215)


def gear_area_belief(mass_kg: float, wing_area_m2: float) -> Prior:
    """Return the belief in the gear's drag area with flaps up, m2.

    The transport formula times what one measured light retractable shows over it, since it is two to three times too
    low there; wide enough for the formula itself. NACA Report 485 measured 0.5 to 3.8 ft2 on gears of the 3,000-lb
    class, NACA TN 456 half of an airplane's minimum drag.
    """
    area = GEAR_ON_LIGHT_AIRPLANES * gear_area_by_formula(mass_kg, wing_area_m2)
    return Prior(area, GEAR_WIDTH * area, "lognormal", "textbook gear formula, scaled to a measured light retractable")


def flap_area_by_formula(
    kind: str, chord_share: float, area_share: float, angle_rad: float, wing_area_m2: float
) -> float:
    """Return a flap's profile drag area, m2: ``S lambda (cf/c)^1.38 (Sf/S) sin^2(delta)``.

    Textbook flap-drag formula, lambda 1.7 for plain and split flaps and 0.9 for slotted ones.
    """
    factor = FLAP_FACTORS[kind] * chord_share**1.38 * area_share
    return float(wing_area_m2 * factor * math.sin(angle_rad) ** 2)


def flap_area_belief(kind: str, chord_share: float, area_share: float, angle_rad: float, wing_area_m2: float) -> Prior:
    """Return the belief in a flap's drag area, m2: the formula scaled to a measured light airplane, wide."""
    area = FLAP_ON_LIGHT_AIRPLANES * flap_area_by_formula(kind, chord_share, area_share, angle_rad, wing_area_m2)
    return Prior(area, FLAP_WIDTH * area, "lognormal", "textbook flap formula, scaled to a measured light airplane")


def propeller_drag_area(state: str, disk_area_m2: float) -> tuple[float, float]:
    """Return the drag area of a propeller without power and its standard uncertainty, m2; see `PROPELLER_SHARES`."""
    share, sd = PROPELLER_SHARES[state]
    return share * disk_area_m2, sd * disk_area_m2


def polar_without_propeller(
    ratio: float, equivalent_airspeed_mps: float, mass_kg: float, span_m: float, propeller_area_m2: float
) -> tuple[float, float, float, float]:
    """Return best glide ratio, its equivalent airspeed, clean area and span efficiency without the propeller's drag.

    The printed glide is the best of a parabolic polar that carries the propeller: parasite equals induced drag, so
    ``f + f_p = W/(2 q E)`` and ``e = 4 E^2 (f + f_p)/(pi b^2)``; taking ``f_p`` away leaves e and gives
    ``E = (b/2) sqrt(pi e/f)``. At most `MOST_OF_GLIDE` of the whole is put down to the propeller.
    """
    pressure = 0.5 * 1.225 * equivalent_airspeed_mps**2
    whole = mass_kg * STANDARD_GRAVITY / (2.0 * pressure * ratio)
    efficiency = 4.0 * ratio**2 * whole / (math.pi * span_m**2)
    clean = max(whole - propeller_area_m2, (1.0 - MOST_OF_GLIDE) * whole)
    better = 0.5 * span_m * math.sqrt(math.pi * efficiency / clean)
    speed = equivalent_airspeed_mps * (whole / clean) ** 0.25
    return better, speed, clean, efficiency


def maneuvering_speed(stall_speed_mps: float, load_factor: float = 3.8) -> float:
    """Return ``V_S sqrt(n)``, below which VA may not lie (14 CFR 23.335(c), legacy; n of 23.337)."""
    return stall_speed_mps * math.sqrt(load_factor)


LEAST_FLAP_LIMIT = 1.8
"""VF may not be less than 1.8 times the stall speed with the flaps extended (14 CFR 23.345(b), legacy; from memory)."""
