"""Limit speeds as the kernel wants them: one row, calibrated m/s."""

from __future__ import annotations

import math

import numpy as np

from wringout.airplane.vector import ANGLES, MAX_SETTINGS, SETTINGS
from wringout.techniques.stated.types import FlightLimits, FloatArray

NO_LIMITS = FlightLimits()


def limits_row(limits: FlightLimits, row: FloatArray) -> FloatArray:
    """Return VFE by detent of a parameter row, then VLE, then VLO; infinite where there is none.

    A detent without a stated limit takes that of the next larger stated angle; one beyond all stated angles none.
    """
    out = np.full(MAX_SETTINGS + 2, math.inf)
    for j in range(1, int(row[SETTINGS])):
        angle = row[ANGLES + j]
        stated = [(a, speed) for a, speed in limits.flaps_extended_cas_mps if a >= angle - 1e-6]
        if stated:
            out[j] = min(stated)[1]
    for slot, value in ((-2, limits.gear_extended_cas_mps), (-1, limits.gear_operating_cas_mps)):
        if value is not None:
            out[slot] = value
    return out
