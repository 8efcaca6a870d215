"""Closed-form reduction of climbs: best-rate and best-angle speed of each configuration, with intervals.

Every rate is brought to geometric height, to maximum weight (excess thrust kept but for the induced drag, which goes
with the square of weight), and the speeds are calibrated. A parabola through rate against speed has its top at the
best-rate speed; the straight line from the origin touches it at the best-angle speed, ``sqrt(A/C)`` of
``A + B V + C V^2``, in calm air. Where climbs were flown on reciprocal headings, the growth of the wind with height is
fitted along and so removed; where they were spread over heights, the change of the rate with height is too.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.methods.believed import believed
from wringout.methods.climb.run import climb_airs
from wringout.methods.lines import LinearFit, belonging, linear_fit
from wringout.methods.steady_climb import Air, excess_thrust_n
from wringout.methods.steady_points import (
    SteadyPoints,
    calibrated,
    configuration_words,
    configurations_of,
    in_configuration,
)
from wringout.methods.steady_run import SteadyRun, geometric_rates
from wringout.methods.types import FloatArray, HandResult, Nuisance
from wringout.propagation import Measured, propagate
from wringout.units import FOOT, FOOT_PER_MINUTE, KNOT, STANDARD_GRAVITY, to_si

SPEED_SPREAD_MPS = 12.0 * KNOT
HEIGHT_SPREAD_M = 500.0 * FOOT
RECIPROCAL_COSINE = -math.cos(math.radians(20.0))
DOUBTED_SDS = 3.0
BIAS, WEIGHT, SPAN_EFFICIENCY = "dial bias", "weight", "span efficiency"
CURVE = ("scatter of the climbs, level", "scatter of the climbs, slope", "scatter of the climbs, curve")


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


def hand_results(
    run: SteadyRun,
    nuisances: tuple[Nuisance, ...],
    reading_sd_mps: FloatArray,
    predict: Callable[[FloatArray, dict[str, float]], FloatArray],
    beliefs: Beliefs,
) -> list[HandResult]:
    """Return the results of each configuration, then the mean rate against what was believed."""
    out: list[HandResult] = []
    for flap, gear in configurations_of(run.points):
        where = in_configuration(run.points, flap, gear)
        curve = _curve(run, where, configuration_words(flap, gear, beliefs), reading_sd_mps, beliefs)
        if curve is not None:
            out += _results(curve, beliefs)
    return [*out, _against_belief(run, nuisances, reading_sd_mps, predict, beliefs)]


def _curve(
    run: SteadyRun, where: NDArray[np.bool_], name: str, reading_sd_mps: FloatArray, beliefs: Beliefs
) -> Curve | None:
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


def _results(curve: Curve, beliefs: Beliefs) -> list[HandResult]:
    out = _check_climb(curve, beliefs) if curve.powers == 1 else _best_speeds(curve, beliefs)
    if curve.by_height:
        out.append(_with_height(curve))
    return out + _winds(curve)


def _inputs(curve: Curve, beliefs: Beliefs) -> dict[str, tuple[float, float]]:
    bias = beliefs.parameters[beliefs.index("ias_bias")].prior
    weight = beliefs.parameters[beliefs.index("mass_factor")].prior
    parts = {CURVE[i]: (float(curve.fit.coefficients[i]), curve.fit.sd(i)) for i in range(curve.powers)}
    efficiency = believed(lambda row: float(row[v.OSWALD]), beliefs, "")
    return {
        **parts,
        BIAS: (0.0, bias.sd),
        WEIGHT: (weight.value, weight.sd),
        SPAN_EFFICIENCY: (efficiency.value, efficiency.standard_uncertainty),
    }


def _measured(curve: Curve, function: Callable[[dict[str, float]], float], unit: str, beliefs: Beliefs) -> Measured:
    """Return a function of the inputs, SI, in ``unit``; the coefficients' correlations heeded."""
    pairs = {(CURVE[i], CURVE[j]): curve.fit.correlation(i, j) for i in range(curve.powers) for j in range(i)}
    finite = {CURVE[i]: curve.fit.dof for i in range(curve.powers)} if math.isfinite(curve.fit.dof) else None
    size = to_si(1.0, unit)
    return propagate(lambda **x: function(x) / size, _inputs(curve, beliefs), unit, pairs, finite)


def _top(curve: Curve, x: dict[str, float]) -> tuple[float, float]:
    """Return (calibrated speed, rate) m/s of the top of the parabola."""
    level, slope, bend = (x[name] for name in CURVE)
    off = -slope / (2.0 * bend)
    return curve.middle_mps + off - x[BIAS], level + 0.5 * slope * off


def _touching(curve: Curve, x: dict[str, float]) -> float:
    """Return the calibrated speed, m/s, at which the line from the origin touches the parabola; NaN where none does."""
    level, slope, bend = (x[name] for name in CURVE)
    at_zero = level - slope * curve.middle_mps + bend * curve.middle_mps**2
    ratio = at_zero / bend
    return math.sqrt(ratio) - x[BIAS] if ratio > 0.0 else math.nan


def _standardising(curve: Curve, x: dict[str, float], beliefs: Beliefs) -> float:
    """Return what weight and span efficiency other than believed add to a rate at maximum weight, m/s."""
    row = beliefs.prior_row()
    off = x[WEIGHT] - float(row[v.MASS_FACTOR]), x[SPAN_EFFICIENCY] - float(row[v.OSWALD])
    return curve.per_weight * off[0] + curve.per_efficiency * off[1]


def _best_speeds(curve: Curve, beliefs: Beliefs) -> list[HandResult]:
    bend, bend_sd = float(curve.fit.coefficients[2]), curve.fit.sd(2)
    centre = {name: value for name, (value, _) in _inputs(curve, beliefs).items()}
    name, low, high = curve.name, curve.low_mps, curve.high_mps
    how = f"Parabola through {curve.count} climbs, {low / KNOT:.0f} to {high / KNOT:.0f} kt calibrated"
    at = f"at maximum weight and {curve.height_m / FOOT:,.0f} ft"
    if bend >= -2.0 * bend_sd:
        value = Measured(bend, bend_sd, "", {CURVE[2]: bend_sd}, curve.fit.dof)
        sentence = (
            f"{how}, does not bend down beyond doubt: the climbs show no best-rate speed. Fly slower and faster ones."
            f"{curve.said}"
        )
        return [
            HandResult(f"curve, {name}", f"Bend of rate against speed, {name}", 3, False, value, math.nan, sentence)
        ]
    fastest, _ = _top(curve, centre)
    speed = _measured(curve, lambda x: _top(curve, x)[0], "kt", beliefs)
    rate = _measured(curve, lambda x: _top(curve, x)[1] + _standardising(curve, x, beliefs), "ft/min", beliefs)
    outside = _outside(curve, fastest)
    out = [
        HandResult(
            f"best-rate speed, {name}",
            f"Best-rate speed, {name}",
            1,
            False,
            speed,
            fastest,
            f"{how}; calibrated, {at}.{outside}{_winds_said(curve)}{curve.said}",
        ),
        HandResult(
            f"best rate, {name}",
            f"Best rate of climb, {name}",
            1,
            False,
            rate,
            fastest,
            f"Top of the parabola, geometric height, {at}.{outside}",
        ),
    ]
    steepest = _touching(curve, centre)
    if math.isfinite(steepest) and steepest > 0.5 * fastest:
        angle = _measured(curve, lambda x: _touching(curve, x), "kt", beliefs)
        sentence = f"Where the line from the origin touches the parabola; calibrated, calm air, {at}."
        sentence += _outside(curve, steepest)
        title = f"Best-angle speed, {name}"
        out.append(HandResult(f"best-angle speed, {name}", title, 2, False, angle, steepest, sentence))
    return out


def _outside(curve: Curve, speed_mps: float) -> str:
    if curve.low_mps - KNOT <= speed_mps <= curve.high_mps + KNOT:
        return ""
    return " It lies outside the speeds flown: the parabola is drawn on, and the interval is too narrow."


def _check_climb(curve: Curve, beliefs: Beliefs) -> list[HandResult]:
    rate = _measured(curve, lambda x: x[CURVE[0]] + _standardising(curve, x, beliefs), "ft/min", beliefs)
    sentence = (
        f"Mean of {curve.count} climbs at {curve.middle_mps / KNOT:.0f} kt calibrated, brought to maximum weight and "
        f"{curve.height_m / FOOT:,.0f} ft, geometric height.{_winds_said(curve)}{curve.said}"
    )
    name = f"rate at {curve.middle_mps / KNOT:.0f} kt, {curve.name}"
    title = f"Rate of climb at {curve.middle_mps / KNOT:.0f} kt, {curve.name}"
    return [HandResult(name, title, 1, False, rate, curve.middle_mps, sentence)]


def _with_height(curve: Curve) -> HandResult:
    scale = 1000.0 * FOOT / FOOT_PER_MINUTE
    change, sd = float(curve.fit.coefficients[curve.powers]) * scale, curve.fit.sd(curve.powers) * scale
    return HandResult(
        f"rate with height, {curve.name}",
        f"Change of the rate of climb in 1,000 ft, {curve.name}",
        2,
        False,
        Measured(change, sd, "ft/min", {"scatter of the climbs": sd}, curve.fit.dof),
        math.nan,
        "Fitted beside the speed, so that climbs at different heights can be compared.",
    )


def _winds(curve: Curve) -> list[HandResult]:
    """Return the growth of the wind with height along each axis flown both ways, kt in 1,000 ft."""
    out = []
    for k, axis in enumerate(curve.axes_rad):
        place = curve.powers + int(curve.by_height) + k
        scale = 1000.0 * FOOT / KNOT
        value, sd = float(curve.fit.coefficients[place]) * scale, curve.fit.sd(place) * scale
        towards = math.degrees(axis) % 360.0
        out.append(
            HandResult(
                f"wind gradient {towards:03.0f}, {curve.name}",
                f"Growth of the wind towards {towards:03.0f} in 1,000 ft",
                2,
                False,
                Measured(value, sd, "kt", {"scatter of the climbs": sd}, curve.fit.dof),
                math.nan,
                "From climbs on reciprocal headings: what one way gains the other loses, and the fit removes it.",
            )
        )
    return out


def _winds_said(curve: Curve) -> str:
    if curve.axes_rad:
        return " The wind's growth with height is fitted from reciprocal headings and removed."
    return " No reciprocal headings: 1 kt more tailwind in 1,000 ft would take just under 1 % off every rate."


def _against_belief(
    run: SteadyRun,
    nuisances: tuple[Nuisance, ...],
    reading_sd_mps: FloatArray,
    predict: Callable[[FloatArray, dict[str, float]], FloatArray],
    beliefs: Beliefs,
) -> HandResult:
    """Return the mean rate seen less that of the airplane believed before flight."""
    expected = believed(lambda row: float(np.mean(predict(row, {}))), beliefs, "m/s")
    row, budget = beliefs.prior_row(), dict(expected.budget)
    for n in nuisances:
        ends = [float(np.mean(predict(row, {n.key: n.mean + sign * n.sd}))) for sign in (1.0, -1.0)]
        budget[n.share] = math.hypot(budget.get(n.share, 0.0), 0.5 * abs(ends[0] - ends[1]))
    budget["readings"] = float(np.sqrt(np.mean(reading_sd_mps**2) / len(run.points)))
    sd = math.sqrt(sum(part**2 for part in budget.values()))
    more = float(np.mean(run.points.rate_mps)) - expected.value
    sentence = f"Rate seen less rate believed before flight, mean over {len(run.points)} climbs."
    if abs(more) > DOUBTED_SDS * sd:
        cause = "less power than stated, a device out or sinking air" if more < 0.0 else "more power or rising air"
        sentence += f" It is {abs(more) / sd:.1f} standard deviations off, as with {cause}."
    scaled = {name: part / FOOT_PER_MINUTE for name, part in budget.items()}
    value = Measured(more / FOOT_PER_MINUTE, sd / FOOT_PER_MINUTE, "ft/min", scaled)
    return HandResult("climb against belief", "Rate of climb, seen less believed", 3, False, value, math.nan, sentence)
