"""Closed-form reduction of level speed-power points: the classical straight line of PIW VIW on VIW^4.

Speed and power of every point are brought to one weight and sea level at equal lift coefficient:
``VIW = V sqrt(sigma) sqrt(Ws/Wt)``, ``PIW = P sqrt(sigma) (Ws/Wt)^1.5`` (classical level-flight generalisation; from
memory, not re-read). With P the thrust power, ``PIW VIW = (rho0 f / 2) VIW^4 + 2 Ws^2 / (rho0 pi e b^2)``: a straight
line whose slope is the drag area and whose intercept is the span efficiency.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3
from wringout.methods.believed import believed
from wringout.methods.level_power.run import level_airs, needed_disk_power_w
from wringout.methods.lines import FEWEST, in_line, line_doubt
from wringout.methods.steady_climb import excess_thrust_n
from wringout.methods.steady_points import SteadyPoints, configuration_words, configurations_of, in_configuration
from wringout.methods.steady_run import SteadyRun
from wringout.methods.types import FloatArray, HandResult, Nuisance
from wringout.propagation import Measured, propagate, straight_line_fit
from wringout.units import HORSEPOWER, KNOT, STANDARD_GRAVITY, to_si

SHARES = (0.55, 0.65, 0.75)
INDUCED, PARASITE = "scatter of the points, at zero speed", "scatter of the points, slope"
BIAS, WEIGHT, CHART, EFFICIENCY, PROPELLER, BEND = (
    "dial bias",
    "weight",
    "power setting",
    "disk efficiency",
    "propeller slope",
    "bend of thrust",
)


def standard_speed(true_mps: float, density_ratio: float, standard_mass: float, mass: float) -> float:
    """Return VIW: the speed at standard weight and sea level at the same lift coefficient."""
    return true_mps * math.sqrt(density_ratio) * math.sqrt(standard_mass / mass)


def standard_power(power: float, density_ratio: float, standard_mass: float, mass: float) -> float:
    """Return PIW: the power at standard weight and sea level at the same lift coefficient, in the unit of ``power``."""
    return power * math.sqrt(density_ratio) * math.sqrt(standard_mass / mass) ** 3


@dataclass(frozen=True, slots=True)
class Common:
    """Numbers common to all points of a run; ``factor`` is true over stated power."""

    bias_mps: float
    mass_factor: float
    factor: float
    disk_efficiency: float
    slope: float
    bend: float


def thrust_power_w(points: SteadyPoints, x: Common, beliefs: Beliefs) -> tuple[FloatArray, ...]:
    """Return VIW (m/s), PIW of thrust power (W) and propulsive efficiency of each point, shape (n,).

    Thrust is that of the believed propeller at the stated shaft power, less what climbs or accelerates the airplane.
    """
    row = beliefs.prior_row()
    row[v.EFFICIENCY_SLOPE], row[v.THRUST_BEND] = x.slope, x.bend
    standard = beliefs.limits.max_mass_kg
    out = []
    for i, air in enumerate(level_airs(points, beliefs, x.bias_mps)):
        shaft, mass = float(points.shaft_w[i]) * x.factor, float(points.mass_kg[i]) * x.mass_factor
        pull = float(forces.thrust(row, x.disk_efficiency * shaft, air.speed_mps, air.density_kgm3))
        rate = float(points.rate_mps[i]) * (1.0 if points.geometric else air.temperature_ratio)
        level = pull - excess_thrust_n(air, mass, rate)
        sigma = air.density_kgm3 / SEA_LEVEL_DENSITY_KGM3
        out.append(
            (
                standard_speed(air.speed_mps, sigma, standard, mass),
                standard_power(level * air.speed_mps, sigma, standard, mass),
                pull * air.speed_mps / shaft,
            )
        )
    return tuple(np.array(out).T)


def hand_results(run: SteadyRun, chart: Nuisance, reading_sd_w: FloatArray, beliefs: Beliefs) -> list[HandResult]:
    """Return each configuration's line, where it has three points, then the efficiency if the drag is as believed."""
    out: list[HandResult] = []
    for flap, gear in configurations_of(run.points):
        where = in_configuration(run.points, flap, gear)
        if where.sum() >= FEWEST:
            name = configuration_words(flap, gear, beliefs)
            out += _configuration(run, where, name, chart, reading_sd_w, beliefs)
    return [*out, _efficiency(run, chart, reading_sd_w, beliefs)]


def _inputs(chart: Nuisance, beliefs: Beliefs) -> dict[str, tuple[float, float]]:
    keys = {BIAS: "ias_bias", WEIGHT: "mass_factor", EFFICIENCY: "disk_efficiency"}
    keys |= {PROPELLER: "efficiency_slope", BEND: "thrust_bend"}
    priors = {name: beliefs.parameters[beliefs.index(key)].prior for name, key in keys.items()}
    return {CHART: (chart.mean, chart.sd), **{name: (prior.value, prior.sd) for name, prior in priors.items()}}


def _common(x: Mapping[str, float]) -> Common:
    return Common(x[BIAS], x[WEIGHT], x[CHART], x[EFFICIENCY], x[PROPELLER], x[BEND])


@dataclass(frozen=True, slots=True)
class Line:
    """The line of one configuration ready for propagation: value at zero speed and slope, and how inputs move them."""

    inputs: Mapping[str, tuple[float, float]]
    shifts: Mapping[str, tuple[float, float]]
    correlation: float
    dof: float
    efficiency: float

    def at(self, x: Mapping[str, float]) -> tuple[float, float]:
        """Return (intercept W m/s, slope) of the line at the inputs."""
        intercept, slope = x[INDUCED], x[PARASITE]
        for name, (per_intercept, per_slope) in self.shifts.items():
            off = x[name] - self.inputs[name][0]
            intercept, slope = intercept + per_intercept * off, slope + per_slope * off
        return intercept, slope


def _configuration(
    run: SteadyRun,
    where: NDArray[np.bool_],
    name: str,
    chart: Nuisance,
    reading_sd_w: FloatArray,
    beliefs: Beliefs,
) -> list[HandResult]:
    inputs = _inputs(chart, beliefs)
    middle = _common({key: value for key, (value, _) in inputs.items()})
    points = run.points.only(where)
    viw, piw, eta = thrust_power_w(points, middle, beliefs)
    sd = reading_sd_w[where] / points.shaft_w * piw * viw
    used = in_line(viw**4, piw * viw, sd)
    if float(np.ptp(viw[used] ** 4)) < 0.05 * float(np.mean(viw[used] ** 4)):
        return []
    said = "".join(f" {aside.sentence()}" for aside in run.set_aside) + _left_out(points, used, viw, piw)
    line = _line(points.only(used), inputs, sd[used], float(eta[used].mean()), beliefs)
    if line.inputs[INDUCED][0] <= 0.0 or line.inputs[PARASITE][0] <= 0.0:
        return [_no_polar(name, line, said)]
    span = (float(piw[used].min()), float(piw[used].max()))
    return _results(line, name, int(used.sum()), span, said, beliefs)


def _left_out(points: SteadyPoints, used: NDArray[np.bool_], viw: FloatArray, piw: FloatArray) -> str:
    said = []
    for i in np.flatnonzero(~used):
        slope, intercept = np.polyfit(viw[used] ** 4, (piw * viw)[used], 1)
        share = float(piw[i] * viw[i] / (intercept + slope * viw[i] ** 4))
        said.append(
            f" Row {int(points.rows[i])} has {share:.0%} of the power the other points lead to expect, as with a power "
            "misread, or a speed not yet steady: it is kept but left out of the line."
        )
    return "".join(said)


def _line(
    points: SteadyPoints,
    inputs: Mapping[str, tuple[float, float]],
    sd: FloatArray,
    efficiency: float,
    beliefs: Beliefs,
) -> Line:
    values = {key: value for key, (value, _) in inputs.items()}

    def fitted(changed: Mapping[str, float]) -> tuple[FloatArray, float, float, float]:
        viw, piw, _ = thrust_power_w(points, _common({**values, **changed}), beliefs)
        found = straight_line_fit(viw**4, piw * viw)
        return viw**4, found.intercept, found.slope, found.residual_sd

    x, intercept, slope, seen = fitted({})
    intercept_sd, slope_sd, correlation, dof = line_doubt(x, seen, float(np.sqrt(np.mean(sd**2))))
    shifts = {}
    for key, (value, width) in inputs.items():
        step = 0.1 * width if width > 0.0 else 1e-3
        _, high0, high1, _ = fitted({key: value + step})
        _, low0, low1, _ = fitted({key: value - step})
        shifts[key] = ((high0 - low0) / (2.0 * step), (high1 - low1) / (2.0 * step))
    both = {INDUCED: (intercept, intercept_sd), PARASITE: (slope, slope_sd)}
    return Line({**both, **inputs}, shifts, correlation, dof, efficiency)


def _measured(line: Line, function: Callable[[tuple[float, float]], float], unit: str) -> Measured:
    """Return a function of (intercept, slope), SI, in ``unit``."""
    size = to_si(1.0, unit) if unit else 1.0
    finite = {INDUCED: line.dof, PARASITE: line.dof} if math.isfinite(line.dof) else None
    return propagate(
        lambda **x: function(line.at(x)) / size, line.inputs, unit, {(INDUCED, PARASITE): line.correlation}, finite
    )


def _results(
    line: Line, name: str, count: int, span_w: tuple[float, float], said: str, beliefs: Beliefs
) -> list[HandResult]:
    weight, span = beliefs.limits.max_mass_kg * STANDARD_GRAVITY, float(beliefs.base[v.SPAN])
    rho = SEA_LEVEL_DENSITY_KGM3
    area = _measured(line, lambda at: 2.0 * at[1] / rho, "ft2")
    efficiency = _measured(line, lambda at: 2.0 * weight**2 / (rho * math.pi * span**2 * at[0]), "")
    how = (
        f"Straight line of PIW VIW on VIW^4 through {count} points; thrust power from the stated shaft power and the "
        f"propeller believed (efficiency about {line.efficiency:.2f}), which glides do not need."
    )
    out = [
        HandResult(f"drag area, {name}", f"Drag area, {name}", 2, False, area, math.nan, how + said),
        HandResult(f"span efficiency, {name}", f"Span efficiency, {name}", 2, False, efficiency, math.nan, how),
    ]
    rated = float(beliefs.prior_row()[v.RATED_POWER])
    for share in SHARES:
        needed = share * rated * line.efficiency
        if not 0.97 * span_w[0] <= needed <= 1.03 * span_w[1]:
            continue
        speed = _measured(line, partial(_speed_for, needed), "kt")
        out.append(
            HandResult(
                f"speed at {share:.0%}, {name}",
                f"Level speed at {share:.0%} power, {name}",
                2,
                False,
                speed,
                speed.value * KNOT,
                "On the line at maximum weight and sea level (VIW); the fast side of the power curve.",
            )
        )
    return out


def _speed_for(power_w: float, at: tuple[float, float]) -> float:
    """Return the faster speed, m/s, at which ``slope V^4 + intercept = P V``; that of least power where none is."""
    intercept, slope = at
    slowest = (intercept / (3.0 * slope)) ** 0.25

    def more(speed: float) -> float:
        return slope * speed**3 + intercept / speed - power_w

    return float(brentq(more, slowest, 4.0 * slowest)) if more(slowest) < 0.0 else slowest


def _no_polar(name: str, line: Line, said: str) -> HandResult:
    intercept, slope = line.inputs[INDUCED], line.inputs[PARASITE]
    area = 2.0 * slope[0] / SEA_LEVEL_DENSITY_KGM3
    return HandResult(
        f"line, {name}",
        f"Slope of PIW VIW on VIW^4, {name}",
        3,
        False,
        Measured(slope[0], slope[1], "", {PARASITE: slope[1]}, line.dof),
        math.nan,
        f"The line gives a drag area of {area:.2f} m2 with {intercept[0]:.3g} W m/s left at zero speed, which no "
        f"airplane has: the speeds lie too close together, or a power is wrong.{said}",
    )


def _efficiency(run: SteadyRun, chart: Nuisance, reading_sd_w: FloatArray, beliefs: Beliefs) -> HandResult:
    """Return disk efficiency as power the believed airplane needs at the disk over stated shaft power, mean."""
    points = run.points

    def mean(row: FloatArray) -> float:
        airs = level_airs(points, beliefs, float(row[v.IAS_BIAS]))
        return float(np.mean(needed_disk_power_w(points, airs, row) / points.shaft_w))

    value = believed(mean, beliefs, "")
    share = float(np.sqrt(np.sum((reading_sd_w / points.shaft_w) ** 2))) / len(points)
    budget = {**value.budget, CHART: value.value * chart.sd / chart.mean, "readings": value.value * share}
    sd = math.sqrt(sum(part**2 for part in budget.values()))
    prior = beliefs.parameters[beliefs.index("disk_efficiency")].prior
    off = (value.value - prior.value) / math.hypot(sd, prior.sd)
    power = float(np.mean(points.shaft_w)) / HORSEPOWER
    sentence = (
        f"Power the airplane believed before flight needs at the disk over the shaft power stated, mean over "
        f"{len(points)} points about {power:.0f} hp; believed {prior.value:.2f}."
    )
    if abs(off) > 3.0:
        cause = (
            "as with less drag or more power than stated"
            if off > 0.0
            else "as with more drag or less power than stated"
        )
        sentence += f" It is {abs(off):.1f} standard deviations off, {cause}."
    return HandResult(
        "disk efficiency",
        "Propeller efficiency beyond the ideal disk",
        3,
        False,
        Measured(value.value, sd, "", budget),
        math.nan,
        sentence,
    )
