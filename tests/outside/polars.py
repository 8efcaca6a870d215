"""Polars and device areas of airplanes nobody here wrote, each from what JSBSim itself reports.

Where thrust blows over wing and tail (``blown``), the airplane cannot be held still without its propeller turning at
zero thrust, so drag and lift are those of steady glides at zero thrust; else those of the airplane held in trim.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence

import numpy as np

from .airplanes import Array, Outside
from .flight_dynamics_model import trimmed, weight_lb, wing_area_ft2
from .flights import fly_glide, fly_stall


@functools.cache
def coefficients(
    airplane: Outside, kias: float, altitude_ft: float, flap_deg: float = 0.0, gear: float = 0.0
) -> tuple[float, float]:
    """Lift and drag coefficient on the wing area in steady flight without thrust at one speed."""
    area = wing_area_ft2(airplane)
    if not airplane.blown:
        level = trimmed(kias, altitude_ft, flap_deg, gear, airplane)
        return level.lift_lbf / (level.qbar_psf * area), level.drag_lbf / (level.qbar_psf * area)
    glide = fly_glide(airplane, kias, altitude_ft, flap_deg=flap_deg, gear=gear, run_s=30.0)
    lift, drag = glide.lift_lbf / (glide.qbar_psf * area), glide.drag_lbf / (glide.qbar_psf * area)
    return float(lift.mean()), float(drag.mean())


def _drag_at_lift(
    airplane: Outside, kias: float, lift_coefficient: float, altitude_ft: float, flap_deg: float, gear: float
) -> float:
    """Drag coefficient at a lift coefficient near that flown at a speed: along the line through two glides near it."""
    (cl, cd), (more_cl, more_cd) = (
        coefficients(airplane, round(v, 2), altitude_ft, flap_deg, gear) for v in (kias, 0.985 * kias)
    )
    return cd + (lift_coefficient - cl) * (more_cd - cd) / (more_cl - cl)


def device_area(
    airplane: Outside, speeds_kias: Sequence[float], altitude_ft: float, flap_deg: float, gear: float
) -> Array:
    """Equivalent parasite area, square feet, that flaps and gear add to the clean airplane at equal speed and lift."""
    area = wing_area_ft2(airplane)
    out = []
    for speed in speeds_kias:
        clean = trimmed(float(speed), altitude_ft, 0.0, 0.0, airplane)
        if airplane.blown:
            cl = weight_lb(airplane) / (clean.qbar_psf * area)
            both = [
                _drag_at_lift(airplane, float(speed), cl, altitude_ft, flap, down)
                for flap, down in ((0.0, 0.0), (flap_deg, gear))
            ]
            out.append((both[1] - both[0]) * area)
        else:
            dirty = trimmed(float(speed), altitude_ft, flap_deg, gear, airplane)
            out.append((dirty.drag_lbf - clean.drag_lbf) / clean.qbar_psf)
    return np.array(out)


def clean_parabola(airplane: Outside, speeds_kias: Sequence[float], altitude_ft: float) -> tuple[float, float]:
    """CD0 and k of ``CD = CD0 + k CL^2`` by least squares through JSBSim's own polar at the given speeds."""
    cl, cd = np.array([coefficients(airplane, float(v), altitude_ft) for v in speeds_kias]).T
    k, cd0 = np.polyfit(cl**2, cd, 1)
    return float(cd0), float(k)


@functools.cache
def stall_kias(airplane: Outside, altitude_ft: float, flap_deg: float, entry_rate_kt_s: float = 1.0) -> float:
    """Calibrated airspeed at the break, power off, when the speed falls steadily at an entry rate, knots per second.

    Flown at three rates and read off between them, as a commanded rate is not quite the rate flown.
    """
    flown = [fly_stall(airplane, altitude_ft, flap_deg=flap_deg, entry_rate_kt_s=r) for r in (0.4, 0.8, 1.3)]
    return float(np.interp(entry_rate_kt_s, [f.entry_rate_kt_s for f in flown], [f.kias for f in flown]))
