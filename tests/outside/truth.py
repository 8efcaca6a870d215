"""What is true of an airplane nobody here wrote, in the terms a flight test reports it. See `flight_dynamics_model`."""

from __future__ import annotations

import functools
import math

import numpy as np
from scipy.optimize import minimize_scalar

from .airplanes import FT_PER_NAUTICAL_MILE, Array, Outside
from .flight_dynamics_model import max_lift, steady_power, trimmed, weight_lb, wing_area_ft2

SEA_LEVEL_SLUG_FT3 = 0.0023769  # US Standard Atmosphere 1976
LAPSE_PER_FT = 6.8756e-6  # of temperature, over sea-level temperature; ICAO Doc 7488/3


def stall_kcas(airplane: Outside, flap_deg: float) -> float:
    """Power-off 1 g stall speed at the model's weight, from its largest trimmed lift coefficient, knots calibrated."""
    area, lift = wing_area_ft2(airplane), max_lift(flap_deg, airplane)
    speed_fps = math.sqrt(2.0 * weight_lb(airplane) / (SEA_LEVEL_SLUG_FT3 * area * lift))
    return speed_fps * 3600.0 / FT_PER_NAUTICAL_MILE


@functools.cache
def climb_fpm(airplane: Outside, kias: float, altitude_ft: float, throttle: float = 1.0) -> float:
    """Rate of climb, ft/min, at constant calibrated airspeed, clean, from JSBSim's own forces held still.

    Thrust at the lever less trimmed drag lifts the airplane and speeds it up:
    ``sin(gamma) (1 + (V/g) dV/dh) = (T cos(alpha) - D) / W``; the lift needed is ``W cos(gamma) - T sin(alpha)``.
    """
    weight = weight_lb(airplane)
    thrust, _, _, ktas, alpha = steady_power(kias, altitude_ft, throttle, airplane)
    sine = 0.0
    factor = 1.0 + _acceleration_factor(kias, altitude_ft)
    for _ in range(12):
        lift = weight * math.cos(math.asin(sine)) - thrust * math.sin(alpha)
        level = trimmed(kias, altitude_ft, 0.0, 0.0, airplane, lift)
        alpha = level.alpha_rad
        before, sine = sine, (thrust * math.cos(alpha) - level.drag_lbf) / weight / factor
        if abs(sine - before) < 1e-9:
            break
    return ktas * FT_PER_NAUTICAL_MILE / 60.0 * sine


def _acceleration_factor(kias: float, altitude_ft: float) -> float:
    """``(V/g) dV/dh`` at constant equivalent airspeed in the standard atmosphere, compressibility left out."""
    ratio = (1.0 - LAPSE_PER_FT * altitude_ft) ** 4.2559
    speed_fps = kias * FT_PER_NAUTICAL_MILE / 3600.0 / math.sqrt(ratio)
    per_ft = 0.5 * speed_fps * 4.2559 * LAPSE_PER_FT / (1.0 - LAPSE_PER_FT * altitude_ft)
    return speed_fps * per_ft / 32.174


@functools.cache
def best_rate(airplane: Outside, altitude_ft: float, throttle: float = 1.0) -> tuple[float, float]:
    """Return the speed of best rate of climb, knots calibrated, and that rate, ft/min."""
    speeds: Array = np.arange(airplane.lowest_kias + 2.0, airplane.lowest_kias + 62.0, 3.0)
    rates = [climb_fpm(airplane, float(v), altitude_ft, throttle) for v in speeds]
    at = float(speeds[int(np.argmax(rates))])
    found = minimize_scalar(
        lambda v: -climb_fpm(airplane, round(float(v), 3), altitude_ft, throttle),
        bounds=(at - 4.0, at + 4.0),
        method="bounded",
        options={"xatol": 0.05},
    )
    return float(found.x), -float(found.fun)
