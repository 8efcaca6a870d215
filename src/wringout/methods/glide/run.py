"""What glides are once taken from a recording, and the drag their sink shows. SI units."""

from __future__ import annotations

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.errors import BadInputError
from wringout.methods.power_words import PowerKind, power_of
from wringout.methods.setup_words import words_of
from wringout.methods.steady_climb import Air, airs_at, drag_coefficients, excess_thrust_n
from wringout.methods.steady_points import (
    SetAside,
    SteadyPoints,
    calibrated,
)
from wringout.methods.steady_run import SteadyRun, geometric_rates, points_of, source_of, title_of
from wringout.methods.types import FloatArray
from wringout.recordings.types import Recording
from wringout.units import FOOT_PER_MINUTE, INCH_OF_MERCURY

KEY = "glide"
MANIFOLD_STEP_PA = 3.0 * INCH_OF_MERCURY
"""A manifold pressure this much above the other glides' means that power was left on (judged)."""


def runs_from_recording(key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs) -> list[SteadyRun]:
    """Return the run; the recording is a table of glides or one or more timed ones. Raises BadInputError."""
    words, name = words_of(recording, setup), recording.name
    power = power_of(recording, words, beliefs)
    if power.pulls:
        raise BadInputError(
            f"the glides were flown with power {words.get('power', '')!r}",
            f"{name}, power",
            'glides are flown with "power: idle" or "power: zero thrust"; with power on, take them in as descents',
        )
    points, air, aside = points_of(recording, words, beliefs, power)
    points, more = _usable(points, name)
    title = title_of(points, "glide", beliefs, power.kind.value)
    return [SteadyRun(key, title, source_of(recording), air, points, power, (*aside, *more), KEY)]


def _usable(points: SteadyPoints, name: str) -> tuple[SteadyPoints, tuple[SetAside, ...]]:
    """Return the points that are glides, and those set aside with the reason; refuse when none is left."""
    if not np.isfinite(points.rate_mps).any():
        raise BadInputError(
            "no row says how fast the airplane sank",
            f"{name}, vertical speed",
            'give a column "vertical speed", -750 for 750 ft/min down, or time, speed and altitude',
        )
    if np.all(points.rate_mps[np.isfinite(points.rate_mps)] >= 0.0):
        raise BadInputError(
            "every vertical speed is a climb", f"{name}, vertical speed", "write a descent with a minus, such as -750"
        )
    aside, keep = [], np.ones(len(points), dtype=bool)
    for i, row in enumerate(points.rows):
        reason = _why_no_glide(points, i)
        if reason:
            aside.append(SetAside(int(row), reason))
            keep[i] = False
    if not keep.any():
        raise BadInputError(f"no glide is left: {aside[0].sentence()}", name, "fly them again with the throttle closed")
    return points.only(keep), tuple(aside)


def _why_no_glide(points: SteadyPoints, i: int) -> str:
    rate = float(points.rate_mps[i])
    if np.isnan(rate):
        return "no vertical speed is written"
    if rate >= 0.0:
        return f"it climbs at {rate / FOOT_PER_MINUTE:.0f} ft/min, as with power left on or a minus forgotten"
    manifold = points.manifold_pressure_pa
    others = np.delete(manifold, i)
    others = others[np.isfinite(others)]
    if np.isfinite(manifold[i]) and others.size:
        usual = float(np.median(others))
        if manifold[i] > usual + MANIFOLD_STEP_PA:
            return (
                f"power was left on: manifold pressure {manifold[i] / INCH_OF_MERCURY:.1f} inHg where the other glides "
                f"have {usual / INCH_OF_MERCURY:.1f} inHg"
            )
    return ""


def glide_airs(points: SteadyPoints, beliefs: Beliefs, bias_mps: float) -> list[Air]:
    """Return the air of each glide with the indicator's bias taken off."""
    return airs_at(
        calibrated(points, beliefs, bias_mps),
        points.pressure_altitude_m,
        points.isa_deviation_k,
        points.drift_mps2,
    )


def coefficients(
    points: SteadyPoints, beliefs: Beliefs, wing_m2: float, bias_mps: float = 0.0, mass_factor: float = 1.0
) -> tuple[FloatArray, FloatArray]:
    """Return CL and CD of every glide from its sink, the propeller's own drag in it; arrays of shape (n,)."""
    airs = glide_airs(points, beliefs, bias_mps)
    rates = geometric_rates(points, airs)
    out = []
    for air, rate, mass in zip(airs, rates.tolist(), (points.mass_kg * mass_factor).tolist(), strict=True):
        drag = -excess_thrust_n(air, mass, rate)
        out.append(drag_coefficients(air, mass, rate, drag, wing_m2))
    both = np.array(out)
    return both[:, 0], both[:, 1]


def named_propeller(kind: PowerKind) -> str:
    """Return what the propeller does at this power, in words for a title."""
    return "propeller windmilling" if kind is PowerKind.IDLE else "zero thrust"
