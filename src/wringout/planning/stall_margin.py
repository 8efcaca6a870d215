"""The believed stall speed at a weight and bank, as the dial would show it."""

from __future__ import annotations

import math

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.forces import stall_speed
from wringout.airspeed import calibrated_from_true, indicated_from_calibrated
from wringout.atmosphere import density_kgm3
from wringout.units import DEGREE, KNOT, STANDARD_GRAVITY

STOP_ABOVE_STALL_MPS = 10.0 * KNOT
"""How far above the believed stall speed a run that slows by itself is stopped (the cards' stop condition)."""


def believed_stall_ias_mps(
    beliefs: Beliefs, flap_rad: float, gear: float, mass_kg: float, bank_rad: float, altitude_m: float, isa_k: float
) -> float:
    """Return the believed indicated stall speed, m/s, power off, at a weight and bank: ``VS sqrt(1 / cos bank)``.

    The load factor of a level turn is 1 / cos(bank) and the stall speed grows with its root (standard mechanics).
    """
    density = float(density_kgm3(altitude_m, isa_k))
    weight = mass_kg * STANDARD_GRAVITY / math.cos(bank_rad)
    true = float(stall_speed(beliefs.prior_row(), weight, density, flap_rad))
    calibrated = calibrated_from_true(true, altitude_m, isa_k)
    return float(
        np.asarray(indicated_from_calibrated(calibrated, beliefs.instrument.position_error, flap_rad / DEGREE, gear))
    )
