"""What printed climbs and cruises say of drag and propeller: the share of engine power they need in the slipstream.

A climb or cruise at a printed speed needs a thrust, ``D + W dh/dt / V``; an ideal disk needs a power to make it; that
power over the engine's is the propeller's efficiency beyond the ideal disk. It cannot be above one, and real propellers
lie near 0.8. So every printed point, with the polar of the printed glide, states that one number, and points that state
different ones contradict each other. The acceleration of a climb at constant airspeed (one or two per cent of the rate)
is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares, minimize_scalar

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.forces import drag, full_throttle_disk_power, power_share, reference_disk_power, thrust
from wringout.airplane.handbook_figures import POWER_SHARE, PrintedPoint
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3, density_kgm3
from wringout.units import STANDARD_GRAVITY

MOVED = (
    "glide_ratio",
    "glide_speed",
    "clean_area",
    "span_efficiency",
    "clean_slope",
    "efficiency_slope",
    "thrust_bend",
    "rated_power",
    "disk_efficiency",
)
"""Parameters that printed performance speaks of; `disk_efficiency` last."""
_STEP = 1e-3


@dataclass(frozen=True, slots=True)
class Needed:
    """What points need, as logarithms of the share of engine power, shape (n,).

    ``slopes`` (n, k) are derivatives by the latents of ``keys`` (without the disk efficiency); ``own_sd`` (n,) is the
    doubt from the points' own printed rate, speed and power.
    """

    logs: v.FloatArray
    slopes: v.FloatArray
    own_sd: v.FloatArray
    keys: tuple[str, ...]

    def covariance(self) -> v.FloatArray:
        """Return the covariance of the logarithms: own doubts, and the beliefs that the points share."""
        return np.asarray(self.slopes @ self.slopes.T + np.diag(self.own_sd**2))


def needed_share(row: v.FloatArray, point: PrintedPoint) -> float:
    """Return the disk power that a point needs at the propeller's reference speed, over the engine's power."""
    density = float(density_kgm3(point.altitude_m, point.isa_deviation_k))
    weight = point.mass_kg * STANDARD_GRAVITY
    wanted = drag(row, point.true_mps, density, weight, 0.0, 0.0) + weight * point.climb_mps / point.true_mps
    disk = reference_disk_power(row, wanted, point.true_mps, density)
    return float(disk / engine_power(row, point, density))


def engine_power(row: v.FloatArray, point: PrintedPoint, density: float) -> float:
    """Return the engine's power at a point, W: as printed, else full throttle at that density."""
    if point.power_w is not None:
        return point.power_w
    return float(row[v.RATED_POWER] * power_share(row, density / SEA_LEVEL_DENSITY_KGM3))


def moved_keys(beliefs: Beliefs) -> tuple[str, ...]:
    """Return which of `MOVED` the airplane has, disk efficiency last."""
    known = {parameter.key for parameter in beliefs.parameters}
    return tuple(key for key in MOVED if key in known)


def _row(beliefs: Beliefs, keys: Sequence[str], latents: v.FloatArray) -> v.FloatArray:
    z = np.zeros(len(beliefs.parameters))
    for key, value in zip(keys, latents, strict=True):
        z[beliefs.index(key)] = value
    return beliefs.row_from_latent(z)


def needed(beliefs: Beliefs, points: Sequence[PrintedPoint]) -> Needed:
    """Return what the points need, with the doubts they share and their own."""
    keys = moved_keys(beliefs)[:-1]

    def logs(latents: v.FloatArray) -> v.FloatArray:
        row = _row(beliefs, keys, latents)
        return np.array([math.log(needed_share(row, point)) for point in points])

    middle = np.zeros(len(keys))
    slopes = [(logs(step) - logs(-step)) / (2.0 * _STEP) for step in np.eye(len(keys)) * _STEP]
    row = _row(beliefs, keys, middle)
    own = np.array([own_doubt(row, point) for point in points])
    return Needed(logs(middle), np.column_stack(slopes), own, keys)


def own_doubt(row: v.FloatArray, point: PrintedPoint) -> float:
    """Return the standard uncertainty of the logarithm of `needed_share` from the point's own figures."""
    base = math.log(needed_share(row, point))

    def change(moved: PrintedPoint) -> float:
        return math.log(needed_share(row, moved)) - base

    speed = change(replace(point, true_mps=point.true_mps * (1.0 + point.speed_share)))
    rate = change(replace(point, climb_mps=point.climb_mps + point.rate_sd_mps))
    return math.hypot(speed, rate, 0.0 if point.power_w is None else POWER_SHARE)


@dataclass(frozen=True, slots=True)
class Updated:
    """Beliefs after the printed points: latents ``z`` and standard deviations ``sd`` of ``keys`` (k,), both in latents.

    ``tension`` is the root of chi-square per point. Above 1 the figures disagree, and each belief was widened by about
    as far as it was moved, since nobody can say which figure is wrong.
    """

    keys: tuple[str, ...]
    z: v.FloatArray
    sd: v.FloatArray
    tension: float


def updated(beliefs: Beliefs, points: Sequence[PrintedPoint]) -> Updated:
    """Return the beliefs that the printed points leave, by least squares with the priors, linearised at the answer."""
    keys = moved_keys(beliefs)
    if not points:
        return Updated(keys, np.zeros(len(keys)), np.ones(len(keys)), 1.0)
    prior = {parameter.key: parameter.prior for parameter in beliefs.parameters}
    own = needed(beliefs, points).own_sd

    def residuals(z: v.FloatArray) -> v.FloatArray:
        row = _row(beliefs, keys, z)
        believed = math.log(max(prior["disk_efficiency"].from_latent(float(z[-1])), 1e-6))
        misses = [math.log(needed_share(row, point)) - believed for point in points]
        return np.concatenate([z, np.array(misses) / own])

    found = least_squares(residuals, np.zeros(len(keys)), method="lm")
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    tension = math.sqrt(2.0 * float(found.cost) / len(points))
    moved = np.asarray(found.x) * math.sqrt(max(1.0 - 1.0 / max(tension, 1.0) ** 2, 0.0))
    return Updated(keys, np.asarray(found.x), np.hypot(np.sqrt(np.diag(covariance)), moved), tension)


def best_rate_speed(row: v.FloatArray, point: PrintedPoint) -> float:
    """Return the true airspeed, m/s, of the steepest gain of height per time at full throttle, clean."""
    density = float(density_kgm3(point.altitude_m, point.isa_deviation_k))
    weight = point.mass_kg * STANDARD_GRAVITY
    power = full_throttle_disk_power(row, density / SEA_LEVEL_DENSITY_KGM3)

    def sinking(speed: float) -> float:
        return float((drag(row, speed, density, weight, 0.0, 0.0) - thrust(row, power, speed, density)) * speed)

    return float(minimize_scalar(sinking, bounds=(20.0, 100.0), method="bounded", options={"xatol": 1e-3}).x)


def best_rate_speed_with_doubt(beliefs: Beliefs, point: PrintedPoint) -> tuple[float, float]:
    """Return `best_rate_speed` at the middle of the beliefs and the standard uncertainty of its logarithm."""
    keys = moved_keys(beliefs)
    middle = best_rate_speed(_row(beliefs, keys, np.zeros(len(keys))), point)
    # The speed is flat in the power; a step of half a standard deviation rises above the search's own tolerance.
    slopes = [
        math.log(best_rate_speed(_row(beliefs, keys, step), point) / middle) / 0.5 for step in np.eye(len(keys)) * 0.5
    ]
    return middle, float(np.linalg.norm(slopes))
