"""What climbs are once taken from a recording, with inversions found and the wind's growth with height. SI units."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.beliefs import Beliefs
from wringout.atmosphere import standard_temperature_k
from wringout.errors import BadInputError
from wringout.methods.power_words import Power, PowerKind, power_of
from wringout.methods.setup_words import words_of
from wringout.methods.steady_climb import Air, airs_at
from wringout.methods.steady_points import (
    SetAside,
    SteadyPoints,
    calibrated,
    column,
)
from wringout.methods.steady_run import SteadyRun, points_of, source_of, title_of
from wringout.methods.steady_stretches import INVERSION_K
from wringout.methods.types import FloatArray
from wringout.recordings.types import Recording
from wringout.units import FOOT

KEY = "climb"
LAYER_M = 300.0 * FOOT
"""Points closer in altitude than this say nothing of a layer between them (judged)."""


def runs_from_recording(key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs) -> list[SteadyRun]:
    """Return the run; the recording is a table of climbs or a timed one. Raises BadInputError."""
    words, name = words_of(recording, setup), recording.name
    power = power_of(recording, words, beliefs)
    if power.kind not in (PowerKind.FULL, PowerKind.STATED):
        raise BadInputError(
            f"the climbs were flown with power {power.words!r}", f"{name}, power", 'write "full", "160 hp" or "65 %"'
        )
    points, air, aside = points_of(recording, words, beliefs, power)
    warmth = np.isfinite(column(recording, "oat"))
    if recording.time_s is None:
        measured = warmth[np.isfinite(column(recording, "ias"))]
    else:
        measured = np.full(len(points), bool(warmth.any()))
    points, more = _usable(points, power, measured, name)
    title = title_of(points, "climb", beliefs, f"{power.words} power").replace("power power", "power")
    return [SteadyRun(key, title, source_of(recording), air, points, power, (*aside, *more), KEY)]


def _usable(
    points: SteadyPoints, power: Power, measured: NDArray[np.bool_], name: str
) -> tuple[SteadyPoints, tuple[SetAside, ...]]:
    """Return the points with rate and power outside inversions, and those set aside; refuse when none is left."""
    reasons = _inversions(points, measured)
    for i in range(len(points)):
        if not np.isfinite(points.rate_mps[i]):
            reasons[i] = "no vertical speed is written"
        elif power.kind is PowerKind.STATED and not np.isfinite(points.shaft_w[i]):
            reasons[i] = "no power is stated for it"
    aside = tuple(SetAside(int(points.rows[i]), reason) for i, reason in sorted(reasons.items()))
    keep = np.array([i not in reasons for i in range(len(points))])
    if not keep.any():
        raise BadInputError(
            f"no climb is left: {aside[0].sentence()}", name, "give vertical speed and power, and fly below or above it"
        )
    return points.only(keep), aside


def _inversions(points: SteadyPoints, measured: NDArray[np.bool_]) -> dict[int, str]:
    """Return the points on either side of a layer in which the temperature read rises with height, with the reason."""
    reasons: dict[int, str] = {}
    known = [i for i in np.argsort(points.pressure_altitude_m) if measured[i]]
    height = points.pressure_altitude_m
    kelvin = standard_temperature_k(height) + points.isa_deviation_k
    for low, high in pairwise(known):
        rise = float(kelvin[high] - kelvin[low])
        if height[high] - height[low] >= LAYER_M and rise >= INVERSION_K:
            words = (
                f"the temperature rises by {rise:.1f} C from {height[low] / FOOT:.0f} to {height[high] / FOOT:.0f} ft, "
                "an inversion, where neither wind nor density is that of the other climbs"
            )
            reasons[int(low)] = reasons[int(high)] = words
    return reasons


def climb_airs(
    points: SteadyPoints, beliefs: Beliefs, bias_mps: float, tailwind: FloatArray | float = 0.0
) -> list[Air]:
    """Return the air of each climb with the indicator's bias taken off; ``tailwind`` is its growth with height, 1/s."""
    return airs_at(
        calibrated(points, beliefs, bias_mps),
        points.pressure_altitude_m,
        points.isa_deviation_k,
        points.drift_mps2,
        tailwind,
    )
