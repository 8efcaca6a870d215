"""What level speed-power points are once taken from a recording, and the thrust they need. SI units."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3
from wringout.errors import BadInputError
from wringout.methods.power_words import PowerKind, power_of
from wringout.methods.setup_words import words_of
from wringout.methods.steady_climb import Air, airs_at, excess_thrust_n
from wringout.methods.steady_points import (
    SetAside,
    SteadyPoints,
    calibrated,
)
from wringout.methods.steady_run import SteadyRun, points_of, source_of, title_of
from wringout.methods.types import FloatArray
from wringout.recordings.types import Recording
from wringout.units import FOOT_PER_MINUTE, STANDARD_GRAVITY

KEY = "level power"
LEVEL_RATE_SD_MPS = 25.0 * FOOT_PER_MINUTE
"""How far from level a point without a vertical speed may have been, standard deviation (judged, no source)."""
STEEPEST_MPS = 200.0 * FOOT_PER_MINUTE
"""A point that climbs or sinks faster is no level flight (judged)."""


def runs_from_recording(key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs) -> list[SteadyRun]:
    """Return the run; the recording is a table of points or a timed one. Raises BadInputError."""
    words, name = words_of(recording, setup), recording.name
    power = power_of(recording, words, beliefs)
    if power.kind not in (PowerKind.FULL, PowerKind.STATED):
        raise BadInputError(
            f"level points were flown with power {power.words!r}", f"{name}, power", 'write "full", "160 hp" or "65 %"'
        )
    points, air, aside = points_of(recording, words, beliefs, power)
    if power.kind is PowerKind.FULL:
        points = replace(points, shaft_w=_full_power(points, beliefs))
    points, more = _usable(points, name)
    title = title_of(points, "level point", beliefs)
    return [SteadyRun(key, title, source_of(recording), air, points, power, (*aside, *more), KEY)]


def _full_power(points: SteadyPoints, beliefs: Beliefs) -> FloatArray:
    """Return full-throttle shaft power of the airplane believed, W, by its altitude law."""
    row = beliefs.prior_row()
    airs = level_airs(points, beliefs, 0.0)
    shares = [float(forces.power_share(row, air.density_kgm3 / SEA_LEVEL_DENSITY_KGM3)) for air in airs]
    return np.array(shares) * float(row[v.RATED_POWER])


def _usable(points: SteadyPoints, name: str) -> tuple[SteadyPoints, tuple[SetAside, ...]]:
    """Return level points with a power, a missing vertical speed taken as level; refuse when none is left."""
    aside, keep = [], np.ones(len(points), dtype=bool)
    for i, row in enumerate(points.rows):
        rate = float(points.rate_mps[i])
        if not np.isfinite(points.shaft_w[i]):
            reason = "no power is stated for it"
        elif abs(rate) > STEEPEST_MPS:
            reason = f"it is not level, the altitude changes by {rate / FOOT_PER_MINUTE:+.0f} ft/min"
        else:
            continue
        aside.append(SetAside(int(row), reason))
        keep[i] = False
    if not keep.any():
        raise BadInputError(f"no level point is left: {aside[0].sentence()}", name, "give power and a steady speed")
    points = points.only(keep)
    level = ~np.isfinite(points.rate_mps)
    return (
        replace(
            points,
            rate_mps=np.where(level, 0.0, points.rate_mps),
            rate_sd_mps=np.where(level, LEVEL_RATE_SD_MPS, points.rate_sd_mps),
        ),
        tuple(aside),
    )


def level_airs(points: SteadyPoints, beliefs: Beliefs, bias_mps: float) -> list[Air]:
    """Return the air of each point with the indicator's bias taken off."""
    return airs_at(
        calibrated(points, beliefs, bias_mps),
        points.pressure_altitude_m,
        points.isa_deviation_k,
        points.drift_mps2,
    )


def needed_disk_power_w(points: SteadyPoints, airs: list[Air], row: FloatArray) -> FloatArray:
    """Return the power at the disk at EFFICIENCY_SPEED, W, that candidate ``row`` needs for each point, shape (n,)."""
    out = np.empty(len(points))
    for i, air in enumerate(airs):
        mass = float(points.mass_kg[i] * row[v.MASS_FACTOR])
        rate = float(points.rate_mps[i]) * (1.0 if points.geometric else air.temperature_ratio)
        weight = mass * STANDARD_GRAVITY
        drag = forces.drag(
            row, air.speed_mps, air.density_kgm3, weight, float(points.gear[i]), float(points.flap_rad[i])
        )
        thrust = max(float(drag) + excess_thrust_n(air, mass, rate), 1.0)
        out[i] = forces.reference_disk_power(row, thrust, air.speed_mps, air.density_kgm3)
    return out
