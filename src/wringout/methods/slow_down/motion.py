"""The motion of a slow-down or descent by a candidate airplane: speed against time, and the figures pilots ask for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.atmosphere import density_kgm3
from wringout.methods.level_deceleration.method import with_propeller
from wringout.methods.level_deceleration.run import climb_polynomial, geometric_factor, knots, motion_start_s
from wringout.methods.power_words import PowerKind, disk_power_w
from wringout.methods.slow_down.run import SlowDownRun
from wringout.methods.speed_history import climb_rate_at, position_at, speed_history
from wringout.methods.steady_climb import acceleration_factor, with_windmilling
from wringout.methods.types import FloatArray
from wringout.recordings.types import Device
from wringout.units import STANDARD_GRAVITY

FIGURE_STEP_S = 1.0
LONGEST = 3.0
"""How many times its own length a run is followed to find when a candidate reaches the target speed."""


@dataclass(frozen=True, slots=True)
class Figures:
    """Time (s), still-air distance (m) and height lost (m) to a speed; ``reached`` is False where it was not."""

    time_s: float
    distance_m: float
    height_m: float
    reached: bool


def candidate(run: SlowDownRun, row: FloatArray, nuisance: Mapping[str, float]) -> FloatArray:
    """Return the row with what is particular to the run: its propeller, or the drag of a windmilling one."""
    if not run.power.pulls:
        return with_windmilling(row, nuisance["windmilling drag"])
    return with_propeller(row, nuisance["propeller"])


def climb_factor(run: SlowDownRun) -> float:
    """Return what a rate of change of altitude as read counts for in the motion at the run's own density."""
    return geometric_factor(run) * _climb_counts(run)


def _climb_counts(run: SlowDownRun) -> float:
    """Return one plus ``(V/g) dV/dh``: at a steady indicated airspeed the true airspeed falls on the way down, which
    the constant density of the motion leaves out."""
    air = run.conditions
    height, deviation = np.array(air.pressure_altitude_m), np.array(air.isa_deviation_k)
    return 1.0 + float(acceleration_factor(np.array(float(run.ias_mps.mean())), height, deviation))


def followed_climb(run: SlowDownRun) -> FloatArray:
    """Return the climb-rate polynomial that the motion follows, m/s, from the altitudes read; nil without three."""
    return np.asarray(climb_polynomial(run) * _climb_counts(run))


def true_airspeed(
    run: SlowDownRun,
    row: FloatArray,
    nuisance: Mapping[str, float],
    marks: FloatArray,
    times_s: FloatArray,
    climb: FloatArray,
) -> FloatArray:
    """Return true airspeed, m/s, of candidate ``row`` at rising times, power as stated or as held speed at entry.

    The entry speed is true airspeed as read, from which the candidate takes its own indicator bias. ``climb`` is the
    climb-rate polynomial followed (m/s), ``marks`` the clock error of each move (s). Density, and with
    it true over indicated airspeed, is that of the run's altitude throughout.
    """
    air = run.conditions
    density = float(density_kgm3(air.pressure_altitude_m, air.isa_deviation_k))
    moved = candidate(run, row, nuisance)
    mass = air.mass_kg * float(row[v.MASS_FACTOR])
    per_ias = nuisance["entry speed"] / float(run.ias_mps[0])
    entry = max(nuisance["entry speed"] - per_ias * float(row[v.IAS_BIAS]), 20.0)
    gear_t, gear_x = knots(run, moved, marks, Device.GEAR)
    flap_t, flap_x = knots(run, moved, marks, Device.FLAPS)
    start = min(motion_start_s(gear_t, flap_t), float(times_s[0]))
    acceleration = nuisance.get("entry acceleration", 0.0)
    if run.power.kind is not PowerKind.HELD:
        power = disk_power_w(
            row, run.power.kind, float(run.power.shaft_w[0]), density, nuisance.get("power factor", 1.0)
        )
        thrust = max(float(forces.thrust(moved, power, entry, density)), 1.0)
        gear, flap = position_at(start, gear_t, gear_x), position_at(start, flap_t, flap_x)
        drag = float(forces.drag(moved, entry, density, mass * STANDARD_GRAVITY, gear, flap))
        acceleration = (thrust - drag) / mass - STANDARD_GRAVITY / entry * climb_rate_at(start, climb)
    grid = np.concatenate(([start], times_s))
    out = np.empty(grid.size)
    speed_history(
        moved, grid, entry, acceleration, mass, density, climb, gear_t, gear_x, flap_t, flap_x, out
    )  # fmt: skip
    return out[1:]


def figures_to(
    run: SlowDownRun, row: FloatArray, nuisance: Mapping[str, float], marks: FloatArray, target_true_mps: float
) -> Figures:
    """Return the figures of candidate ``row`` from the first reading to a true airspeed, m/s.

    The height is lost at the mean rate of the run. A candidate that does not get there in three times the run's length
    is counted to that end.
    """
    length = float(run.time_s[-1])
    rate = -run.height_lost_m / length
    times = np.arange(0.0, LONGEST * length + FIGURE_STEP_S, FIGURE_STEP_S)
    speeds = true_airspeed(run, row, nuisance, marks, times, np.array([rate * climb_factor(run) + nuisance["climb"]]))
    below = np.flatnonzero(speeds <= target_true_mps)
    if below.size == 0:
        time = float(times[-1])
    else:
        i = int(below[0])
        share = 0.0 if i == 0 else float((speeds[i - 1] - target_true_mps) / max(speeds[i - 1] - speeds[i], 1e-9))
        time = 0.0 if i == 0 else float(times[i - 1]) + share * FIGURE_STEP_S
    path = np.concatenate(([0.0], np.cumsum(0.5 * (speeds[1:] + speeds[:-1]) * FIGURE_STEP_S)))
    return Figures(time, float(np.interp(time, times, path)), -rate * time, bool(below.size))
