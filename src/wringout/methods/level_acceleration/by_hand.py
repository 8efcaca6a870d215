"""Closed-form reduction of a level acceleration: specific excess power against speed, with intervals.

``Ps = dh/dt + (V/g) dV/dt`` (U.S. Naval Test Pilot School fixed-wing performance manual, equation 7.3): the rate of
climb the airplane could have at that speed. The acceleration comes from a smooth fit of the speeds read.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.atmosphere import density_kgm3
from wringout.methods.believed import believed
from wringout.methods.level_acceleration.run import AccelerationRun
from wringout.methods.level_deceleration.run import climb_polynomial, climb_sd_mps, has_altitude
from wringout.methods.power_words import disk_power_w
from wringout.methods.speed_history import climb_rate_at
from wringout.methods.speed_trend import SpeedTrend, speed_trend
from wringout.methods.types import FloatArray, HandResult, Nuisance
from wringout.propagation import Measured, propagate
from wringout.units import KNOT, STANDARD_GRAVITY, to_si

READINGS = ("readings, level of the excess power", "readings, its slope", "readings, its curve")
BIAS, CLIMB = "dial bias", "altitude drift"
WEIGHT, SHAPE = "weight", "shape of the curve"
EDGE_MPS = 2.0 * KNOT
NEAREST = 0.6
"""Share of the readings, nearest to the peak, that a parabola is laid through by themselves."""
DOUBTED_SDS = 3.0


def specific_excess_power_mps(speed_mps: float, acceleration_mps2: float, climb_mps: float = 0.0) -> float:
    """Return ``dh/dt + (V/g) dV/dt``, m/s; true airspeed."""
    return climb_mps + speed_mps / STANDARD_GRAVITY * acceleration_mps2


def unbalanced_force_n(mass_kg: float, acceleration_mps2: float) -> float:
    """Return the force that accelerates the airplane in level flight, N."""
    return mass_kg * acceleration_mps2


def energy_height_m(speed_mps: float) -> float:
    """Return ``V^2 / 2g``, m: the height that the speed is worth."""
    return speed_mps**2 / (2.0 * STANDARD_GRAVITY)


def hand_results(run: AccelerationRun, true_mps: FloatArray, power: Nuisance, beliefs: Beliefs) -> list[HandResult]:
    """Return excess power at the slow end, middle and fast end, its peak, and the middle against what was believed.

    ``true_mps`` is TAS per reading, ``power`` the run's nuisance of power.
    """
    dial = float(np.hypot(beliefs.instrument.reading_sd_mps, run.whole_units_mps / math.sqrt(12.0)))
    per_ias = float(np.mean(true_mps / run.ias_mps))
    clock = beliefs.instrument.clock_sd_s
    trend = speed_trend(run.time_s, true_mps, dial * per_ias, clock)
    if trend is None or trend.high_mps - trend.low_mps < EDGE_MPS:
        return []
    climb = _climb(run, true_mps)
    middle = 0.5 * (trend.low_mps + trend.high_mps)
    inputs = _inputs(run, trend, beliefs)
    out = []
    for place, speed in (("slow end", trend.low_mps), ("middle", middle), ("fast end", trend.high_mps)):
        value = _measured(trend, inputs, lambda at, speed=speed: _power_at(at, trend, speed, climb, per_ias), "ft/min")  # type: ignore[misc]
        out.append(
            HandResult(
                f"excess power, {place}",
                f"Specific excess power at {speed / KNOT:.0f} kt true",
                1,
                False,
                value,
                speed,
                "Speed over g times the acceleration, and what the altitude changed; the climb rate this excess could "
                "give, air and weight as flown.",
            )
        )
    force = _measured(trend, inputs, lambda at: _force_at(at, run, trend, middle, climb, per_ias), "lbf")
    sentence = "Mass times the acceleration there: thrust less drag."
    out.append(HandResult("excess thrust, middle", "Excess thrust, middle speed", 1, False, force, middle, sentence))
    peak = _peak(trend, inputs, climb, per_ias)
    near = _nearest(true_mps, peak.value.value * KNOT)
    nearer = speed_trend(run.time_s[near], true_mps[near], dial * per_ias, clock)
    out.append(peak if nearer is None else _with_shape_doubted(peak, nearer, climb))
    out.append(_against_belief(run, out[1], middle, power, beliefs))
    return out


At = dict[str, float]


def _inputs(run: AccelerationRun, trend: SpeedTrend, beliefs: Beliefs) -> dict[str, tuple[float, float]]:
    bias = beliefs.parameters[beliefs.index("ias_bias")].prior
    weight = beliefs.parameters[beliefs.index("mass_factor")].prior
    sds = np.sqrt(np.diag(trend.covariance))[1:]
    named = zip(READINGS, trend.coefficients[1:].tolist(), sds.tolist(), strict=True)
    return {
        **{name: (value, sd) for name, value, sd in named},
        BIAS: (bias.value, bias.sd),
        CLIMB: (0.0, climb_sd_mps(run)),
        WEIGHT: (weight.value, weight.sd),
    }


def _measured(
    trend: SpeedTrend, inputs: dict[str, tuple[float, float]], function: Callable[[At], float], unit: str
) -> Measured:
    """Return a function of the inputs, SI, in ``unit``, the correlation of the trend's coefficients heeded."""
    covariance = trend.covariance[1:, 1:]
    sds = np.sqrt(np.diag(covariance))
    pairs = {
        (READINGS[i], READINGS[j]): float(np.clip(covariance[i, j] / (sds[i] * sds[j]), -1.0, 1.0))
        for i in range(3)
        for j in range(i)
    }
    size = to_si(1.0, unit)
    dofs = {name: float(trend.dof) for name in READINGS}
    return propagate(lambda **x: function(x) / size, inputs, unit, pairs, dofs)


def _acceleration(at: At, trend: SpeedTrend, speed: float) -> float:
    b0, b1, b2 = (at[name] for name in READINGS)
    u = speed - trend.middle_mps
    return (b0 + u * (b1 + u * b2)) / speed


def _power_at(at: At, trend: SpeedTrend, speed: float, climb: np.poly1d, per_ias: float) -> float:
    true = speed - per_ias * at[BIAS]
    return specific_excess_power_mps(true, _acceleration(at, trend, speed), float(climb(speed)) + at[CLIMB])


def _force_at(at: At, run: AccelerationRun, trend: SpeedTrend, speed: float, climb: np.poly1d, per_ias: float) -> float:
    true = speed - per_ias * at[BIAS]
    rising = STANDARD_GRAVITY / true * (float(climb(speed)) + at[CLIMB])
    return unbalanced_force_n(run.conditions.mass_kg * at[WEIGHT], _acceleration(at, trend, speed) + rising)


def _climb(run: AccelerationRun, true_mps: FloatArray) -> np.poly1d:
    """Return climb rate as a straight line of speed, m/s, from the altitudes read; nil without any."""
    if not has_altitude(run):
        return np.poly1d([0.0])
    polynomial = climb_polynomial(run)
    rates = [climb_rate_at(float(time), polynomial) for time in run.time_s]
    return np.poly1d(np.polyfit(true_mps, rates, 1))


def _peak(trend: SpeedTrend, inputs: dict[str, tuple[float, float]], climb: np.poly1d, per_ias: float) -> HandResult:
    """Return the speed of greatest excess power, or the end of the range it lies beyond."""
    grid = np.linspace(trend.low_mps, trend.high_mps, 201)

    def peak_of(at: At) -> float:
        powers = np.array([_power_at(at, trend, float(speed), climb, per_ias) for speed in grid])
        top = int(np.clip(np.argmax(powers), 1, grid.size - 2))
        parabola = np.polyfit(grid[top - 1 : top + 2] - grid[top], powers[top - 1 : top + 2], 2)
        inside = float(np.clip(-parabola[1] / (2.0 * parabola[0]), -1.0, 1.0)) if parabola[0] < 0.0 else 0.0
        return float(grid[top]) + inside

    centre = {name: value for name, (value, _) in inputs.items()}
    speed = peak_of(centre)
    interior = trend.low_mps + EDGE_MPS < speed < trend.high_mps - EDGE_MPS
    if interior:
        value = _measured(trend, inputs, peak_of, "kt")
        sentence = "True airspeed where the excess power peaks: the best rate of climb at this altitude, as flown."
    else:
        value = Measured(speed / KNOT, (trend.high_mps - trend.low_mps) / KNOT, "kt")
        sentence = (
            "The excess power still changes one way at the end of the speeds flown: the best-rate speed lies there or "
            "beyond, and its uncertainty is put at the whole range."
        )
    return HandResult("best-rate speed", "Speed of best rate of climb, true", 2, False, value, speed, sentence)


def _nearest(true_mps: FloatArray, speed_mps: float) -> NDArray[np.intp]:
    """Return the places, rising, of the share NEAREST of the readings whose speeds are nearest to one."""
    count = math.ceil(NEAREST * true_mps.size)
    return np.sort(np.argsort(np.abs(true_mps - speed_mps), kind="stable")[:count])


def _with_shape_doubted(peak: HandResult, nearer: SpeedTrend, climb: np.poly1d) -> HandResult:
    """Return the peak with what it moves by when only the readings near it are used, as a standard uncertainty.

    Excess power is no parabola over a wide range (a polar with a kink pulls the peak of one by 3 kt); over a narrower
    range it is nearer to one.
    """
    grid = np.linspace(nearer.low_mps, nearer.high_mps, 201)
    powers = climb(grid) + grid / STANDARD_GRAVITY * nearer.acceleration(grid)
    moved = abs(float(grid[int(np.argmax(powers))]) / KNOT - peak.value.value)
    value = peak.value
    doubted = replace(
        value,
        standard_uncertainty=math.hypot(value.standard_uncertainty, moved),
        budget={**value.budget, SHAPE: moved},
    )
    return replace(peak, value=doubted)


def _against_belief(
    run: AccelerationRun, seen: HandResult, speed: float, power: Nuisance, beliefs: Beliefs
) -> HandResult:
    """Return excess power at the middle speed less that believed before flight."""
    air = run.conditions
    density = float(density_kgm3(air.pressure_altitude_m, air.isa_deviation_k))

    def expected(row: FloatArray, factor: float = 1.0) -> float:
        mass = air.mass_kg * float(row[v.MASS_FACTOR])
        disk = disk_power_w(row, run.power.kind, float(run.power.shaft_w[0]), density, factor)
        thrust = forces.thrust(row, disk, speed, density)
        weight = mass * STANDARD_GRAVITY
        drag = forces.drag(row, speed, density, weight, run.entry_gear, run.entry_flap_rad)
        return float(thrust - drag) * speed / weight / to_si(1.0, "ft/min")

    belief = believed(expected, beliefs, "ft/min")
    row = beliefs.prior_row()
    setting = abs(expected(row, 1.0 + power.sd) - expected(row, 1.0 - power.sd)) / 2.0
    budget = {**belief.budget, power.share: setting, "readings": seen.value.standard_uncertainty}
    sd = math.sqrt(sum(part**2 for part in budget.values()))
    more = seen.value.value - belief.value
    sentence = f"Seen less believed before flight ({belief.value:.0f} ft/min) at the middle speed."
    if abs(more) > DOUBTED_SDS * sd:
        cause = "less power than stated, or a device out" if more < 0.0 else "more power than stated, or a climb unread"
        sentence += f" It is {abs(more) / sd:.1f} standard deviations off, as with {cause}."
    value = Measured(more, sd, "ft/min", budget)
    return HandResult(
        "excess power against belief", "Excess power, seen less believed", 3, False, value, speed, sentence
    )
