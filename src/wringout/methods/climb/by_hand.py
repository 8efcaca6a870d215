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

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.methods.believed import believed
from wringout.methods.climb.curve import Curve, climb_curve
from wringout.methods.steady_points import (
    configuration_words,
    configurations_of,
    in_configuration,
)
from wringout.methods.steady_run import SteadyRun
from wringout.methods.types import FloatArray, HandResult, Nuisance
from wringout.propagation import Measured, propagate
from wringout.units import FOOT, FOOT_PER_MINUTE, KNOT, to_si

DOUBTED_SDS = 3.0
BIAS, WEIGHT, SPAN_EFFICIENCY = "dial bias", "weight", "span efficiency"
CURVE = ("scatter of the climbs, level", "scatter of the climbs, slope", "scatter of the climbs, curve")


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
        curve = climb_curve(run, where, configuration_words(flap, gear, beliefs), reading_sd_mps, beliefs)
        if curve is not None:
            out += _results(curve, beliefs)
    return [*out, _against_belief(run, nuisances, reading_sd_mps, predict, beliefs)]


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
