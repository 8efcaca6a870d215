"""Findings: quantities a reader asks for, each with its interval, what it rests on and what its doubt is made of."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numba import njit

from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.vector import FloatArray
from wringout.airspeed import calibrated_from_equivalent
from wringout.estimate.fit import JointFit
from wringout.estimate.posterior import Posterior
from wringout.units import STANDARD_GRAVITY

SEA_LEVEL_DENSITY = 1.225
SMALL_SHARE = 0.02


@dataclass(frozen=True, slots=True)
class Finding:
    """One estimated quantity, SI.

    ``half`` is the central 50 % interval, ``most`` the central 95 %. ``at_speed_mps`` is the calibrated airspeed and
    ``at_mass_kg`` the mass it holds at (None where it has none). ``runs`` are keys of the runs it rests on.
    ``shares`` gives, by source of doubt, the share of the variance that would vanish if that source were known exactly
    (sources overlap, so they need not add to one; what readings alone leave is under "readings").
    """

    key: str
    label: str
    unit: str
    value: float
    half: tuple[float, float]
    most: tuple[float, float]
    prior_most: tuple[float, float] | None
    at_speed_mps: float | None
    at_mass_kg: float | None
    runs: tuple[str, ...]
    shares: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class DragCurve:
    """A device's drag area against calibrated airspeed, with bands. Arrays have shape (m,); areas m2."""

    device: str
    label: str
    speed_mps: FloatArray
    median: FloatArray
    half_low: FloatArray
    half_high: FloatArray
    most_low: FloatArray
    most_high: FloatArray
    mass_kg: float
    runs: tuple[str, ...]


def summarise(
    key: str,
    label: str,
    unit: str,
    values: FloatArray,
    joint: JointFit,
    posterior: Posterior,
    runs: Sequence[str],
    prior_values: FloatArray | None = None,
    at_speed_mps: float | None = None,
    at_mass_kg: float | None = None,
) -> Finding:
    """Return the finding for posterior ``values``, shape (n,), one per draw of ``posterior``."""
    low, q1, middle, q3, high = (float(q) for q in np.percentile(values, [2.5, 25.0, 50.0, 75.0, 97.5]))
    prior = None
    if prior_values is not None:
        prior = (float(np.percentile(prior_values, 2.5)), float(np.percentile(prior_values, 97.5)))
    shares = _shares(values, joint, posterior)
    return Finding(
        key, label, unit, middle, (q1, q3), (low, high), prior, at_speed_mps, at_mass_kg, tuple(runs), shares
    )


def _shares(values: FloatArray, joint: JointFit, posterior: Posterior) -> dict[str, float]:
    """Return by source the share of variance that knowing it exactly would remove; small ones are left out."""
    sd = float(np.std(values))
    if sd == 0.0 or not math.isfinite(sd):
        return {}
    spread = np.std(posterior.z, axis=0)
    correlation = (values - values.mean()) @ (posterior.z - posterior.z.mean(axis=0)) / (len(values) * sd * spread)
    names = [p.label for p in joint.problem.beliefs.parameters]
    own = {"gear_area", "interaction"} | {f"flap_area.{i}" for i in range(1, v.MAX_SETTINGS)}
    keys = [p.key for p in joint.problem.beliefs.parameters]
    totals: dict[str, float] = {}
    for j, name in enumerate(names):
        if keys[j] not in own and not keys[j].startswith("cl_max."):
            totals[name] = totals.get(name, 0.0) + float(correlation[j] ** 2)
    for group, start in zip(joint.problem.nuisances, joint.problem.offsets, strict=True):
        for k, nuisance in enumerate(group):
            totals[nuisance.share] = totals.get(nuisance.share, 0.0) + float(correlation[start + k] ** 2)
    total = sum(totals.values())
    scale = 1.0 / total if total > 1.0 else 1.0
    shares = {name: share * scale for name, share in totals.items() if share * scale >= SMALL_SHARE}
    shares["readings"] = max(0.0, 1.0 - min(total, 1.0))
    return dict(sorted(shares.items(), key=lambda item: -item[1]))


@njit(cache=True, error_model="numpy")
def _device_areas(rows: FloatArray, mass: float, speeds: FloatArray, gear: float, flap: float, out: FloatArray) -> None:
    """Fill ``out`` (n, m) with the area added by gear at ``gear`` and flaps at ``flap`` over clean, level flight."""
    for i in range(rows.shape[0]):
        a = rows[i]
        for j in range(speeds.size):
            q = 0.5 * SEA_LEVEL_DENSITY * speeds[j] ** 2
            cl = mass * a[v.MASS_FACTOR] * STANDARD_GRAVITY / (q * a[v.WING_AREA])
            out[i, j] = forces.gear_area(a, gear, flap) + forces.flap_area(a, flap, cl)


def device_areas(
    rows: FloatArray, mass_kg: float, equivalent_speeds_mps: FloatArray, gear: float, flap_rad: float
) -> FloatArray:
    """Return added drag area, m2, shape (n draws, m speeds), at equal lift in level flight at ``mass_kg``."""
    out = np.empty((rows.shape[0], equivalent_speeds_mps.size))
    _device_areas(rows, mass_kg, equivalent_speeds_mps, gear, flap_rad, out)
    return out


def drag_curve(
    device: str,
    label: str,
    rows: FloatArray,
    mass_kg: float,
    equivalent_speeds_mps: FloatArray,
    gear: float,
    flap_rad: float,
    runs: Sequence[str],
) -> DragCurve:
    """Return the device's drag area over speed with 50 and 95 % bands."""
    areas = device_areas(rows, mass_kg, equivalent_speeds_mps, gear, flap_rad)
    low, q1, middle, q3, high = np.percentile(areas, [2.5, 25.0, 50.0, 75.0, 97.5], axis=0)
    speed = calibrated_from_equivalent(equivalent_speeds_mps, 0.0)
    return DragCurve(device, label, speed, middle, q1, q3, low, high, mass_kg, tuple(runs))


def stall_speeds(rows: FloatArray, mass_kg: float, flap_rad: float) -> FloatArray:
    """Return stall speed per draw, m/s equivalent, at ``mass_kg`` and a 1 kt/s entry, shape (n,)."""
    return np.array([forces.stall_speed(row, mass_kg * STANDARD_GRAVITY, SEA_LEVEL_DENSITY, flap_rad) for row in rows])
