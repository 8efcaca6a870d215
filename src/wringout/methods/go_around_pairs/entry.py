"""What a faster or steeper entry does to a go-around, by energy: for holding pairs against each other at one entry.

Two go-arounds of a pair never start alike. Speed above the reference is energy, ``V^2/2g`` of height, that the pilot
trades for height as the airplane slows to its climb speed; a steeper descent must be stopped first. Only differences
from a reference entry are used, so what all go-arounds share does not matter. The fitted airplane, flown by whoever
can fly it, may take the place of these arguments: anything that answers as `EntryModel.scores` does.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.forces import drag, full_throttle_disk_power, thrust
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3, density_kgm3
from wringout.methods.go_around_pairs.run import HEIGHT_LOST, TIME_TO_CLIMB, GoAroundRun, height_at
from wringout.methods.types import FloatArray
from wringout.units import STANDARD_GRAVITY

REACTION_S = 1.5
"""From the call to the first pull [s] (judged, no source)."""
PULL_G = 0.15
"""Load factor beyond 1 of the pull that stops the descent (judged, no source)."""
TRADE_S = 8.0
"""Time constant with which spare speed is traded for height [s] (judged, no source)."""
ENERGY_SHARE_SD = 0.5
"""Standard uncertainty of an energy argument, as a share of the correction it makes (judged, no source)."""

Scores = Callable[[str, float, float], Mapping[str, float]]
"""(technique, entry true airspeed m/s, entry descent m/s) to the expected scores, SI, by score key."""


@dataclass(frozen=True, slots=True)
class EntryModel:
    """How scores depend on the entry. ``share_sd`` is the standard uncertainty of a correction as a share of it."""

    scores: Scores
    share_sd: float
    words: str


def energy_model(run: GoAroundRun, row: FloatArray) -> EntryModel:
    """Return the energy arguments for a candidate airplane.

    With reaction time ``t_r``, pull ``n g`` and descent ``w`` the descent stops after ``t_r + w/(n g)`` and
    ``w t_r + w^2/(2 n g)`` of height. By time ``t`` a share ``s = 1 - exp(-t/tau)`` of ``V^2/2g`` has become height;
    while the airplane is faster it also climbs at another specific excess power, which adds ``dPs/dV`` times the speed
    times ``tau s``, with Ps at full throttle in the entry configuration.
    """
    weight = float(np.mean(run.mass_kg)) * float(row[v.MASS_FACTOR]) * STANDARD_GRAVITY
    density = float(density_kgm3(run.conditions.pressure_altitude_m, run.conditions.isa_deviation_k))
    middle = float(np.mean(run.entry_speed_mps))
    slope = excess_power_slope(row, run.entry_gear, run.entry_flap_rad, middle, weight, density)

    def scores(_technique: str, speed_mps: float, descent_mps: float) -> dict[str, float]:
        return _scores(speed_mps, descent_mps, slope)

    return EntryModel(scores, ENERGY_SHARE_SD, "energy height and a steady pull")


def _scores(speed_mps: float, descent_mps: float, slope: float) -> dict[str, float]:
    stopping = REACTION_S + descent_mps / (PULL_G * STANDARD_GRAVITY)
    sunk = descent_mps * REACTION_S + descent_mps**2 / (2.0 * PULL_G * STANDARD_GRAVITY)

    def gained(time_s: float) -> float:
        share = 1.0 - math.exp(-time_s / TRADE_S)
        return share * (speed_mps**2 / (2.0 * STANDARD_GRAVITY) + slope * speed_mps * TRADE_S)

    out = {TIME_TO_CLIMB.key: stopping, HEIGHT_LOST.key: sunk - gained(stopping)}
    for seconds in (15.0, 30.0, 60.0):
        out[height_at(seconds).key] = gained(seconds) - sunk
    return out


def excess_power_slope(
    row: FloatArray, gear: float, flap_rad: float, speed_mps: float, weight_n: float, density: float
) -> float:
    """Return d/dV of specific excess power ``(T - D) V / W`` at full throttle, m/s per m/s, by central difference."""
    power = full_throttle_disk_power(row, density / SEA_LEVEL_DENSITY_KGM3)

    def excess(speed: float) -> float:
        net = thrust(row, power, speed, density) - drag(row, speed, density, weight_n, gear, flap_rad)
        return float(net * speed / weight_n)

    return excess(speed_mps + 0.5) - excess(speed_mps - 0.5)


def corrections(run: GoAroundRun, model: EntryModel) -> FloatArray:
    """Return what to take off each score so that all go-arounds start from the mean entry, shape (n, scores).

    NaN where the entry was not read.
    """
    known = np.isfinite(run.entry_speed_mps) & np.isfinite(run.entry_descent_mps)
    out = np.full(run.scores.shape, np.nan)
    if not known.any():
        return out
    mean = float(run.entry_speed_mps[known].mean()), float(run.entry_descent_mps[known].mean())
    for i in np.flatnonzero(known):
        technique = run.techniques[int(run.technique[i])]
        usual = model.scores(technique, *mean)
        own = model.scores(technique, float(run.entry_speed_mps[i]), float(run.entry_descent_mps[i]))
        out[i] = [own[score.key] - usual[score.key] for score in run.score_list]
    return out
