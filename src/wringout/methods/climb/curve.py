"""The curve through the climbs of one configuration: rate against speed, the change with height, the wind's growth.

Every rate is brought to geometric height and to maximum weight first. Where climbs were flown on reciprocal headings,
the growth of the wind with height is fitted along and so removed; where they were spread over heights, the change of
the rate with height is too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.methods.climb.run import climb_airs
from wringout.methods.lines import LinearFit, belonging, linear_fit
from wringout.methods.steady_climb import Air, excess_thrust_n
from wringout.methods.steady_points import (
    SteadyPoints,
    calibrated,
)
from wringout.methods.steady_run import SteadyRun, geometric_rates
from wringout.methods.types import FloatArray
from wringout.units import FOOT, FOOT_PER_MINUTE, KNOT, STANDARD_GRAVITY

SPEED_SPREAD_MPS = 12.0 * KNOT
HEIGHT_SPREAD_M = 500.0 * FOOT
RECIPROCAL_COSINE = -math.cos(math.radians(20.0))


def standard_rate_mps(
    air: Air, rate_mps: float, mass_kg: float, standard_kg: float, span_m: float, efficiency: float
) -> float:
    """Return the geometric rate of climb, m/s, at ``standard_kg`` of a climb seen at ``mass_kg``, same speed and air.

    ``W Ps / V`` is the excess thrust; at another weight the induced drag ``W^2 / (q pi e b^2)`` differs and nothing
    else. The acceleration at constant indicated airspeed stays in: this is the rate an altimeter would count.
    """
    pressure = 0.5 * air.density_kgm3 * air.speed_mps**2
    excess = excess_thrust_n(air, mass_kg, rate_mps)
    induced = STANDARD_GRAVITY**2 * (standard_kg**2 - mass_kg**2) / (pressure * math.pi * efficiency * span_m**2)
    sine = (excess - induced) / (standard_kg * STANDARD_GRAVITY) / (1.0 + air.acceleration_factor)
    return air.speed_mps * sine


def wind_effect_mps(air: Air, rate_mps: float) -> float:
    """Return the change of rate, m/s, for each 1/s of headwind growth: a headwind that grows lifts, a tailwind sinks.

    From ``rate (1 + F + (V/g) dw/dh) = const`` with ``w`` from behind, to first order.
    """
    return rate_mps * air.speed_mps / STANDARD_GRAVITY / (1.0 + air.acceleration_factor)


@dataclass(frozen=True, slots=True)
class Curve:
    """Climbs of one configuration with their fitted curve; speeds calibrated m/s, ``middle_mps`` taken off in it.

    The first three coefficients are level, slope and curve of rate against speed (two for a check climb); then the
    change with height where ``by_height``; then the growth of the wind along each axis of ``axes_rad``.
    """

    name: str
    fit: LinearFit
    middle_mps: float
    low_mps: float
    high_mps: float
    height_m: float
    powers: int
    by_height: bool
    axes_rad: tuple[float, ...]
    count: int
    per_weight: float
    per_efficiency: float
    said: str


def climb_curve(
    run: SteadyRun, where: NDArray[np.bool_], name: str, reading_sd_mps: FloatArray, beliefs: Beliefs
) -> Curve | None:
    """Return the curve of the climbs where ``where`` (n,) is true; None where they are too few or too alike."""
    points = run.points.only(where)
    bias = beliefs.parameters[beliefs.index("ias_bias")].prior
    speeds = calibrated(points, beliefs, bias.value)
    airs = climb_airs(points, beliefs, bias.value)
    seen = geometric_rates(points, airs)
    row = beliefs.prior_row()
    rates = _standard(points, airs, seen, row, beliefs)
    powers = 3 if float(np.ptp(speeds)) >= SPEED_SPREAD_MPS and _distinct(speeds) >= 3 else 1
    by_height = float(np.ptp(points.pressure_altitude_m)) >= HEIGHT_SPREAD_M
    axes = _axes(points.heading_rad)
    middle, height = float(speeds.mean()), float(points.pressure_altitude_m.mean())
    columns = [(speeds - middle) ** power for power in range(powers)]
    if by_height:
        columns.append(points.pressure_altitude_m - height)
    columns += _wind_columns(points, airs, seen * points.mass_kg / beliefs.limits.max_mass_kg, axes)
    design = np.stack(columns, axis=1)
    if len(points) < max(design.shape[1], 2) or np.linalg.matrix_rank(design / np.abs(design).max(axis=0)) < len(
        columns
    ):
        return None
    sd = reading_sd_mps[where]
    used = belonging(design, rates, sd)
    fit = linear_fit(design[used], rates[used], float(np.sqrt(np.mean(sd[used] ** 2))))
    per_weight, per_efficiency = (
        float(np.mean(_standard(points, airs, seen, _moved(row, place, 1.01), beliefs) - rates)) / 0.01
        for place in (v.MASS_FACTOR, v.OSWALD)
    )
    said = [aside.sentence() for aside in run.set_aside] + _left_out(points, used, design, rates, fit)
    return Curve(
        name,
        fit,
        middle,
        float(speeds[used].min()),
        float(speeds[used].max()),
        height,
        powers,
        by_height,
        axes,
        int(used.sum()),
        per_weight,
        per_efficiency / float(row[v.OSWALD]),
        "".join(f" {sentence}" for sentence in said),
    )


def _wind_columns(
    points: SteadyPoints, airs: list[Air], rates_mps: FloatArray, axes_rad: tuple[float, ...]
) -> list[FloatArray]:
    """Return what the wind's growth along each axis does to every rate, m/s for each 1/s.

    ``rates_mps`` are those seen times test weight over standard weight, since a rate brought to the standard weight
    changes by that share of a change of the rate seen.
    """
    effects = np.array([wind_effect_mps(air, rate) for air, rate in zip(airs, rates_mps.tolist(), strict=True)])
    return [-effects * np.cos(points.heading_rad - axis) for axis in axes_rad]


def _standard(
    points: SteadyPoints, airs: list[Air], seen_mps: FloatArray, row: FloatArray, beliefs: Beliefs
) -> FloatArray:
    """Return rates at maximum weight, m/s, with weight factor, span and span efficiency of ``row``."""
    standard = beliefs.limits.max_mass_kg
    masses = (points.mass_kg * row[v.MASS_FACTOR]).tolist()
    return np.array(
        [
            standard_rate_mps(air, rate, mass, standard, float(row[v.SPAN]), float(row[v.OSWALD]))
            for air, rate, mass in zip(airs, seen_mps.tolist(), masses, strict=True)
        ]
    )


def _moved(row: FloatArray, place: int, factor: float) -> FloatArray:
    moved = row.copy()
    moved[place] *= factor
    return moved


def _distinct(speeds_mps: FloatArray) -> int:
    """Return how many speeds differ by 3 kt or more from the one below."""
    return 1 + int(np.sum(np.diff(np.sort(speeds_mps)) >= 3.0 * KNOT))


def _axes(headings_rad: FloatArray) -> tuple[float, ...]:
    """Return the headings along which the wind's growth can be told: none without reciprocals, else one or two."""
    if not np.isfinite(headings_rad).all():
        return ()
    apart = np.cos(headings_rad[:, None] - headings_rad[None, :])
    if not np.any(apart < RECIPROCAL_COSINE):
        return ()
    i, _ = np.unravel_index(int(np.argmin(apart)), apart.shape)
    axis = float(headings_rad[i])
    across = np.abs(np.sin(headings_rad - axis)) > math.sin(math.radians(45.0))
    second = headings_rad[across]
    if second.size and np.any(np.cos(second[:, None] - second[None, :]) < RECIPROCAL_COSINE):
        return axis, axis + 0.5 * math.pi
    return (axis,)


def _left_out(
    points: SteadyPoints, used: NDArray[np.bool_], design: FloatArray, rates: FloatArray, fit: LinearFit
) -> list[str]:
    said = []
    for i in np.flatnonzero(~used):
        off = float(rates[i] - design[i] @ fit.coefficients) / FOOT_PER_MINUTE
        cause = "as in rising air" if off > 0.0 else "as in sinking air, or with less power or a device out"
        said.append(
            f"Row {int(points.rows[i])} is {off:+.0f} ft/min off the other climbs, {cause}: it is kept but left out."
        )
    return said
