"""How far an airplane balloons while a device moves, and what that does to the speeds read. SI units.

Flaps that go out lift the airplane before the pilot has pushed, and let it down as they come in; within a few seconds
of the end of their travel it is back at its height. Nobody reads ten feet, but at 100 kt they are a knot: the height
gained is speed lost, since ``h + V^2/2g`` stays. So each move of a run has a height of its own, unknown
within the band that was held.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wringout.methods.level_deceleration.run import ALTITUDE_READING_SD_M, DecelerationRun, Move, has_altitude
from wringout.methods.speed_history import SLOWEST_MPS
from wringout.methods.types import FloatArray, Nuisance
from wringout.recordings.types import Device
from wringout.units import STANDARD_GRAVITY

BACK_S = 8.0
"""How long after the end of the travel the airplane is back at its height [s] (judged; so in models of JSBSim)."""
SHARE_OF_BAND = {Device.FLAPS: 0.5, Device.GEAR: 0.25}
"""Standard deviation of the height gained at most, as a share of the band held: gear only pitches (judged)."""


def height_sd_m(run: DecelerationRun, move: Move) -> float:
    """Return the standard deviation of the height that a move may have cost or gained at most, m.

    Where altitudes were read through the run, no more than one of them may be off.
    """
    within = SHARE_OF_BAND[move.device] * run.conditions.altitude_band_m
    return min(within, ALTITUDE_READING_SD_M) if has_altitude(run) else within


def ballooning(run: DecelerationRun) -> tuple[Nuisance, ...]:
    """Return the height each move of a run gained at most, m, as numbers of the run."""
    return tuple(
        Nuisance(f"balloon {i + 1}", 0.0, height_sd_m(run, move), "altitude drift") for i, move in enumerate(run.moves)
    )


def climbed_sd_mps(run: DecelerationRun, move: Move, over_s: float) -> float:
    """Return the standard deviation of the mean climb, m/s, over a stretch after a move that may begin at the top."""
    return height_sd_m(run, move) / max(over_s, BACK_S)


def height_shares(times_s: FloatArray, begins_s: FloatArray, travels_s: FloatArray) -> FloatArray:
    """Return which share of its most the height off stands at, (k, n), for moves (k,) at times (n,): half a wave."""
    since = (times_s - begins_s[:, np.newaxis]) / (travels_s[:, np.newaxis] + BACK_S)
    return np.asarray(np.where((since > 0.0) & (since < 1.0), np.sin(np.pi * since) ** 2, 0.0))


def ballooned(
    speeds_mps: FloatArray, times_s: FloatArray, heights_m: FloatArray, moves: Sequence[tuple[FloatArray, FloatArray]]
) -> FloatArray:
    """Return true airspeeds (k, n) of k candidates with the height off at each move taken out of them.

    ``heights_m`` (k, moves), ``moves`` the beginning and the travel time (k,) of each, s.
    """
    heights = np.zeros_like(speeds_mps)
    for i, (begins_s, travels_s) in enumerate(moves):
        heights += heights_m[:, i, np.newaxis] * height_shares(times_s, begins_s, travels_s)
    return np.asarray(np.sqrt(np.maximum(speeds_mps**2 - 2.0 * STANDARD_GRAVITY * heights, SLOWEST_MPS**2)))
