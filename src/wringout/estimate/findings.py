"""Findings: quantities a reader asks for, each with its interval, what it rests on and what its doubt is made of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numba import njit

from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.vector import FloatArray
from wringout.airspeed import calibrated_from_equivalent
from wringout.estimate.fit import JointFit
from wringout.estimate.linear import Linearised
from wringout.estimate.posterior import Posterior
from wringout.units import STANDARD_GRAVITY

SEA_LEVEL_DENSITY = 1.225
SMALL_SHARE = 0.02


@dataclass(frozen=True, slots=True)
class Finding:
    """One estimated quantity, SI.

    ``half`` is the central 50 % interval, ``most`` the central 95 %. ``at_speed_mps`` is the calibrated airspeed and
    ``at_mass_kg`` the mass it holds at (None where it has none). ``runs`` are keys of the runs it rests on.
    ``shares`` gives the share of its variance by independent source, adding up to one: "readings", each kind of run
    nuisance, and "belief: ..." for what was believed of the airplane before the runs.
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

    @property
    def is_belief(self) -> bool:
        """Whether no run speaks of it, so that it is what was believed, carried through the fit."""
        return not self.runs


@dataclass(frozen=True, slots=True)
class Evidence:
    """What findings are drawn from: the fit, its linearisation and its posterior draws."""

    joint: JointFit
    line: Linearised
    posterior: Posterior


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
    evidence: Evidence,
    runs: Sequence[str],
    prior_values: FloatArray | None = None,
    at_speed_mps: float | None = None,
    at_mass_kg: float | None = None,
) -> Finding:
    """Return the finding for posterior ``values``, shape (n,), one per draw of the evidence's posterior."""
    low, q1, middle, q3, high = (float(q) for q in np.percentile(values, [2.5, 25.0, 50.0, 75.0, 97.5]))
    prior = None
    if prior_values is not None:
        prior = (float(np.percentile(prior_values, 2.5)), float(np.percentile(prior_values, 97.5)))
    shares = _shares(values, evidence)
    if not runs:
        label = f"{label} (believed; no run speaks of it)"
    return Finding(
        key, label, unit, middle, (q1, q3), (low, high), prior, at_speed_mps, at_mass_kg, tuple(runs), shares
    )


def _shares(values: FloatArray, evidence: Evidence) -> dict[str, float]:
    """Return the share of the variance that each independent source puts in; small ones are added up as "others".

    In the fit's linearisation every residual - each prior and each reading - is an independent error of unit variance,
    and the estimate is a weighted sum of them. With covariance ``C`` of the latents and slopes ``j_k`` of residual k, a
    quantity with slopes ``g`` has variance ``g'Cg = sum_k (g'C j_k)^2``, one term for each source (GUM, JCGM 100:2008,
    5.1). ``g'C`` is the covariance of the quantity with the latents, taken from the draws.
    """
    z = evidence.posterior.z
    weights = (values - values.mean()) @ (z - z.mean(axis=0)) / values.size
    totals: dict[str, float] = {}

    def add(name: str, part: float) -> None:
        totals[name] = totals.get(name, 0.0) + part

    problem = evidence.joint.problem
    for j, parameter in enumerate(problem.beliefs.parameters):
        add(f"belief: {parameter.label}", float(weights[j] ** 2))
    for group, start in zip(problem.nuisances, problem.offsets, strict=True):
        for k, nuisance in enumerate(group):
            add(nuisance.share, float(weights[start + k] ** 2))
    for slopes in evidence.line.slopes:
        add("readings", float(np.sum((slopes @ weights) ** 2)))
    whole = sum(totals.values())
    if not whole > 0.0:
        return {}
    shares = {name: part / whole for name, part in totals.items() if part / whole >= SMALL_SHARE}
    rest = 1.0 - sum(shares.values())
    ordered = dict(sorted(shares.items(), key=lambda item: -item[1]))
    return {**ordered, "others": rest} if rest >= 0.005 else ordered


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
