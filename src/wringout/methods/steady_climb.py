"""Steady climb, glide and level flight of a point mass at constant indicated airspeed. SI floats.

Along the flight path, with ``sin(gamma) = rate / V`` and lift ``W cos(gamma)``,
``(T - D) / W = sin(gamma) (1 + (V/g) dV/dh + (V/g) dw/dh) + a/g``: the excess of thrust lifts the airplane, and also
speeds it up, since true airspeed grows with height at constant indicated airspeed, tailwind may grow with height
(``w``, positive from behind), and the indicated airspeed may drift (``a``). Rates are geometric ("tapeline").
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airspeed import true_from_calibrated
from wringout.atmosphere import density_kgm3, standard_temperature_k
from wringout.methods.types import FloatArray
from wringout.units import STANDARD_GRAVITY

STEP_M = 30.0
STEEPEST_SINE = 0.9


@dataclass(frozen=True, slots=True)
class Air:
    """Air and path at one steady point.

    ``speed_mps`` is true airspeed, ``acceleration_factor`` is ``(V/g) dV/dh`` plus that of the wind [1],
    ``drift_mps2`` the acceleration beside it, ``temperature_ratio`` the air temperature over the standard one.
    """

    speed_mps: float
    density_kgm3: float
    acceleration_factor: float
    temperature_ratio: float
    drift_mps2: float = 0.0


def temperature_ratio(pressure_altitude_m: FloatArray, isa_deviation_k: FloatArray) -> FloatArray:
    """Return air temperature over standard temperature: geometric height change per change of pressure altitude.

    ``dh = dHp T / T_std`` follows from the hydrostatic equation at equal pressure (any flight-test textbook).
    """
    standard = standard_temperature_k(np.asarray(pressure_altitude_m, dtype=np.float64))
    return np.asarray((standard + isa_deviation_k) / standard)


def acceleration_factor(
    calibrated_mps: FloatArray, pressure_altitude_m: FloatArray, isa_deviation_k: FloatArray
) -> FloatArray:
    """Return ``(V/g) dV/dh`` [1] at constant calibrated airspeed, ``h`` geometric, the ISA deviation held.

    A climb at constant indicated airspeed shows ``1 / (1 + this)`` of the rate it would show at constant true airspeed
    (the climb correction factor of the U.S. Naval Test Pilot School fixed-wing performance manual, equation 7.4).
    """
    held = np.asarray(calibrated_mps, dtype=np.float64)
    low = true_from_calibrated(held, np.asarray(pressure_altitude_m - STEP_M), isa_deviation_k)
    high = true_from_calibrated(held, np.asarray(pressure_altitude_m + STEP_M), isa_deviation_k)
    per_metre = (high - low) / (2.0 * STEP_M) / temperature_ratio(pressure_altitude_m, isa_deviation_k)
    return np.asarray(0.5 * (high + low) * per_metre / STANDARD_GRAVITY)


def airs_at(
    calibrated_mps: FloatArray,
    pressure_altitude_m: FloatArray,
    isa_deviation_k: FloatArray,
    indicated_drift_mps2: FloatArray,
    tailwind_gradient_per_s: FloatArray | float = 0.0,
) -> list[Air]:
    """Return air and path of points flown at calibrated airspeeds, m/s; arrays of shape (n,).

    ``tailwind_gradient_per_s`` is the growth of the wind from behind per metre of height; ``indicated_drift_mps2`` how
    fast the indicated airspeed drifted, turned into true airspeed here.
    """
    speed = true_from_calibrated(calibrated_mps, pressure_altitude_m, isa_deviation_k)
    factor = acceleration_factor(calibrated_mps, pressure_altitude_m, isa_deviation_k)
    factor = factor + speed / STANDARD_GRAVITY * tailwind_gradient_per_s
    columns = (
        speed,
        density_kgm3(pressure_altitude_m, isa_deviation_k),
        factor,
        temperature_ratio(pressure_altitude_m, isa_deviation_k),
        indicated_drift_mps2 * speed / calibrated_mps,
    )
    return [Air(*(float(value) for value in values)) for values in zip(*columns, strict=True)]


def steady_rate_mps(a: FloatArray, air: Air, mass_kg: float, gear: float, flap_rad: float, thrust_n: float) -> float:
    """Return the geometric rate of climb (negative: descent), m/s, of airplane ``a`` with ``thrust_n`` along its path.

    The small angle between lift and weight is iterated out; the sine of the path is held within 0.9.
    """
    weight = mass_kg * STANDARD_GRAVITY
    sine = 0.0
    for _ in range(6):
        lift = weight * math.sqrt(1.0 - sine * sine)
        drag = float(forces.drag(a, air.speed_mps, air.density_kgm3, lift, gear, flap_rad))
        excess = (thrust_n - drag) / weight - air.drift_mps2 / STANDARD_GRAVITY
        before, sine = sine, min(max(excess / (1.0 + air.acceleration_factor), -STEEPEST_SINE), STEEPEST_SINE)
        if abs(sine - before) < 1e-12:
            break
    return air.speed_mps * sine


def excess_thrust_n(air: Air, mass_kg: float, rate_mps: float) -> float:
    """Return thrust less drag, N, shown by a geometric rate of climb: the equation of this module read backwards."""
    sine = rate_mps / air.speed_mps
    lifted = sine * (1.0 + air.acceleration_factor) + air.drift_mps2 / STANDARD_GRAVITY
    return mass_kg * STANDARD_GRAVITY * lifted


def drag_coefficients(air: Air, mass_kg: float, rate_mps: float, drag_n: float, wing_m2: float) -> tuple[float, float]:
    """Return (CL, CD) of a steady point with its drag known, CL from the lift ``W cos(gamma)``."""
    pressure = 0.5 * air.density_kgm3 * air.speed_mps**2
    sine = min(max(rate_mps / air.speed_mps, -STEEPEST_SINE), STEEPEST_SINE)
    lift = mass_kg * STANDARD_GRAVITY * math.sqrt(1.0 - sine * sine)
    return lift / (pressure * wing_m2), drag_n / (pressure * wing_m2)


def with_windmilling(row: FloatArray, area_m2: float) -> FloatArray:
    """Return the row with the drag area of a windmilling propeller, m2, added to the clean airplane's."""
    moved = row.copy()
    moved[v.F_CLEAN] += area_m2
    return moved
