"""Closed-form reduction of an out-and-back pair: thrust and clean drag cancel at equal speed and power.

With the device out, ``m1 (dV/dt + g/V dh/dt) = T - D - D_device``; with it in, at the same speed and levers,
``m2 (dV/dt + g/V dh/dt) = T - D'``. Their difference is the drag of the device, but for the small change of induced
drag where fuel was burnt in between. No propeller model and no clean polar is needed, and both ends of the speed range
that the legs share count alike.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import true_from_calibrated
from wringout.atmosphere import density_kgm3
from wringout.methods.level_deceleration.ballooning import ballooned, height_sd_m
from wringout.methods.level_deceleration.method import METHOD as SINGLE
from wringout.methods.level_deceleration.run import (
    SEEN_CLIMB_SD_MPS,
    DecelerationRun,
    Move,
    calibrated_readings,
    climb_polynomial,
    climb_sd_mps,
    has_altitude,
    travel_time,
)
from wringout.methods.out_and_back.run import OutAndBackRun
from wringout.methods.speed_history import climb_rate_at
from wringout.methods.speed_trend import SpeedTrend, speed_trend
from wringout.methods.types import FloatArray, HandResult
from wringout.propagation import Measured, coverage_factor, propagate
from wringout.recordings.types import Device
from wringout.units import KNOT, SQUARE_FOOT, STANDARD_GRAVITY

GRID = 25
LEAST_OVERLAP_MPS = 3.0 * KNOT
FIRST, SECOND, BIAS, WEIGHT, FUEL = (
    "readings, first leg",
    "readings, way back",
    "dial bias",
    "weight",
    "fuel burnt between",
)
CLIMBS = ("climb, first leg", "climb, way back")
BALLOONS = ("ballooning, first leg", "ballooning, way back")
FUEL_SHARE = 0.2
"""Standard deviation of the fuel burnt between the legs, as a share of it (judged)."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Both legs fitted, over the true airspeeds (m/s) they share. ``sign`` is 1 where the first leg has the device out.

    ``per_ias`` is true over indicated airspeed, for the dial's bias. ``climbs`` is the mean climb of each leg, m/s.
    """

    run: OutAndBackRun
    first: SpeedTrend
    second: SpeedTrend
    speeds: FloatArray
    density: float
    sign: float
    per_ias: float
    climbs: tuple[FloatArray, FloatArray]
    span: float
    efficiency: float

    def areas(self, x: Mapping[str, float]) -> FloatArray:
        """Return the device's drag area, m2, at each shared speed with the inputs at ``x``."""
        true = self.speeds - self.per_ias * x[BIAS]
        pressure = 0.5 * self.density * true**2
        masses = (self.run.conditions.mass_kg * x[WEIGHT], self._return_mass(x) * x[WEIGHT])
        forces = []
        for trend, mass, climb, extra in zip(
            (self.first, self.second), masses, self.climbs, (x[CLIMBS[0]], x[CLIMBS[1]]), strict=True
        ):
            forces.append(mass * (trend.acceleration(self.speeds) + STANDARD_GRAVITY / true * (climb + extra)))
        lift_squared = (masses[1] ** 2 - masses[0] ** 2) * STANDARD_GRAVITY**2
        induced = lift_squared / (pressure * math.pi * self.efficiency * self.span**2)
        return np.asarray(self.sign * (forces[1] - forces[0] + induced) / pressure)

    def _return_mass(self, x: Mapping[str, float]) -> float:
        return self.run.conditions.mass_kg - x[FUEL]

    def mean_area(self, x: Mapping[str, float]) -> float:
        """Return the mean area, m2, over the shared speeds, with the doubt of both legs' slopes as inputs."""
        slopes = self.sign * (x[SECOND] - x[FIRST])
        return float(self.areas(x).mean()) + slopes + sum(x[name] for name in BALLOONS)


def pair_of(run: OutAndBackRun, beliefs: Beliefs) -> Pair | str:
    """Return the fitted pair, or in words why there is none."""
    true, row = true_airspeeds(run, beliefs), beliefs.prior_row()
    per_ias = float(np.mean(true / run.ias_mps))
    legs, climbs = [], []
    for (inside, trend), name in zip(_legs(run, beliefs, true), ("first leg", "way back"), strict=True):
        if trend is None:
            return f"the {name} has {int(inside.sum())} readings after the travel, and five over ten seconds are needed"
        legs.append(trend)
        climbs.append(_climb_at_speeds(run, run.time_s[inside], true[inside]))
    low, high = max(leg.low_mps for leg in legs), min(leg.high_mps for leg in legs)
    if high - low < LEAST_OVERLAP_MPS:
        return (
            f"the legs share no speeds: {legs[0].low_mps / KNOT:.0f} to {legs[0].high_mps / KNOT:.0f} kt true on the "
            f"first and {legs[1].low_mps / KNOT:.0f} to {legs[1].high_mps / KNOT:.0f} kt on the way back"
        )
    speeds = np.linspace(low, high, GRID)
    air = run.conditions
    return Pair(
        run,
        legs[0],
        legs[1],
        speeds,
        float(density_kgm3(air.pressure_altitude_m, air.isa_deviation_k)),
        1.0 if run.moves[0].to_position > run.moves[0].from_position else -1.0,
        per_ias,
        (climbs[0](speeds), climbs[1](speeds)),
        float(row[v.SPAN]),
        float(row[v.OSWALD]),
    )


def _legs(
    run: OutAndBackRun, beliefs: Beliefs, true_mps: FloatArray
) -> list[tuple[NDArray[np.bool_], SpeedTrend | None]]:
    """Return which readings each leg has after its travel, and the trend of their true airspeeds; None of too few."""
    row, out = beliefs.prior_row(), []
    per_ias = float(np.mean(true_mps / run.ias_mps))
    for move, end in zip(run.moves, (run.moves[1].select_s, float(run.time_s[-1]) + 1.0), strict=True):
        inside = (run.time_s >= _arrival(row, move, beliefs)) & (run.time_s < end)
        out.append((inside, _trend(run.time_s[inside], true_mps[inside], per_ias, run, beliefs)))
    return out


def _trend(
    times_s: FloatArray, true_mps: FloatArray, per_ias: float, run: OutAndBackRun, beliefs: Beliefs
) -> SpeedTrend | None:
    dial = float(np.hypot(beliefs.instrument.reading_sd_mps, run.whole_units_mps / math.sqrt(12.0)))
    return speed_trend(times_s, true_mps, dial * per_ias, beliefs.instrument.clock_sd_s)


def true_airspeeds(run: DecelerationRun, beliefs: Beliefs) -> FloatArray:
    """Return true airspeed of every reading, m/s, through each configuration's position error."""
    air, calibrated = run.conditions, calibrated_readings(run, beliefs.instrument.position_error)
    return true_from_calibrated(calibrated, air.pressure_altitude_m, air.isa_deviation_k)


def _arrival(row: FloatArray, move: Move, beliefs: Beliefs) -> float:
    """Return when the device has surely stopped, s: as called, else its believed travel and one standard deviation."""
    if move.arrived_s is not None:
        return move.arrived_s
    direction = "down" if move.to_position > move.from_position else "up"
    key = f"{'gear' if move.device is Device.GEAR else 'flap'}_{direction}_time"
    prior = beliefs.parameters[beliefs.index(key)].prior
    return move.select_s + travel_time(row, move) * (1.0 + prior.sd / prior.value)


def _climb_at_speeds(run: OutAndBackRun, times_s: FloatArray, speeds_mps: FloatArray) -> np.poly1d:
    """Return climb rate as a straight line of speed over a leg, m/s, from the altitudes read; nil without any."""
    if not has_altitude(run):
        return np.poly1d([0.0])
    polynomial = climb_polynomial(run)
    rates = [climb_rate_at(float(time), polynomial) for time in times_s]
    return np.poly1d(np.polyfit(speeds_mps, rates, 1))


def _inputs(pair: Pair, beliefs: Beliefs) -> dict[str, tuple[float, float]]:
    """Return every input of the mean area with its standard uncertainty; slopes enter as areas about nil."""
    bias = beliefs.parameters[beliefs.index("ias_bias")].prior
    factor = beliefs.parameters[beliefs.index("mass_factor")].prior
    burnt = pair.run.conditions.mass_kg - pair.run.return_mass_kg
    pressure = 0.5 * pair.density * pair.speeds**2
    inputs = {BIAS: (bias.value, bias.sd), WEIGHT: (factor.value, factor.sd), FUEL: (burnt, abs(burnt) * FUEL_SHARE)}
    masses = (pair.run.conditions.mass_kg, pair.run.return_mass_kg)
    for name, trend, mass in zip((FIRST, SECOND), (pair.first, pair.second), masses, strict=True):
        weights = np.mean(trend.basis(pair.speeds) / pressure[:, None], axis=0)
        inputs[name] = (0.0, mass * trend.weighted_sd(weights))
    climb = SEEN_CLIMB_SD_MPS if has_altitude(pair.run) else climb_sd_mps(pair.run)
    inputs |= dict.fromkeys(CLIMBS, (0.0, climb))
    return inputs | {
        name: (0.0, mass * sd)
        for name, mass, sd in zip(BALLOONS, masses, _ballooning_sds(pair, beliefs, pressure), strict=True)
    }


def _ballooning_sds(pair: Pair, beliefs: Beliefs, pressure: FloatArray) -> list[float]:
    """Return what the height off at each move may do to the mean of its leg's acceleration over q, m2/kg.

    The leg's trend is fitted again to the readings of the same leg with the standard deviation of that height in them.
    """
    run, row = pair.run, beliefs.prior_row()
    true, out = true_airspeeds(run, beliefs), []
    for (inside, trend), move in zip(_legs(run, beliefs, true), run.moves, strict=True):
        travel = np.array([travel_time(row, move)])
        height = np.array([[height_sd_m(run, move)]])
        times = run.time_s[inside]
        raised = ballooned(true[np.newaxis, inside], times, height, [(np.array([move.select_s]), travel)])[0]
        again = _trend(times, raised, pair.per_ias, run, beliefs)
        change = (
            0.0 if again is None or trend is None else again.acceleration(pair.speeds) - trend.acceleration(pair.speeds)
        )
        out.append(abs(float(np.mean(change / pressure))))
    return out


def _dofs(pair: Pair) -> dict[str, float]:
    return {FIRST: float(pair.first.dof), SECOND: float(pair.second.dof)}


def _in_square_feet(m: Measured) -> Measured:
    budget = {name: part / SQUARE_FOOT for name, part in m.budget.items()}
    return Measured(m.value / SQUARE_FOOT, m.standard_uncertainty / SQUARE_FOOT, "ft2", budget, m.dof)


def hand_results(run: OutAndBackRun, beliefs: Beliefs) -> list[HandResult]:
    """Return the pair's area, then what the first leg says by itself, each weaker by one."""
    pair, single = pair_and_single(run, beliefs)
    if pair is None:
        why = pair_of(run, beliefs)
        return [replace(result, sentence=f"{result.sentence} No pair: {why}.") for result in single]
    return [pair, *single]


def pair_and_single(run: OutAndBackRun, beliefs: Beliefs) -> tuple[HandResult | None, list[HandResult]]:
    """Return the pair's area (None where the legs share no speeds) and the results of the first leg alone.

    Both rest on the same readings, so that the width of their intervals can be compared.
    """
    single = SINGLE.by_hand(first_leg(run), beliefs)
    pair = pair_of(run, beliefs)
    if isinstance(pair, str):
        return None, single
    inputs = _inputs(pair, beliefs)
    value = _in_square_feet(
        propagate(lambda **x: pair.mean_area(x), inputs, "m2", degrees_of_freedom=_dofs(pair))
    )  # fmt: skip
    middle = float(pair.speeds.mean())
    areas = pair.areas({name: centre for name, (centre, _) in inputs.items()}) / SQUARE_FOOT
    low, high = pair.speeds[0] / KNOT, pair.speeds[-1] / KNOT
    sentence = (
        f"Mass times the difference of the two accelerations, over dynamic pressure, mean from {low:.0f} to {high:.0f} "
        f"kt true ({areas[0]:.1f} ft2 at the slow end, {areas[-1]:.1f} at the fast): thrust and clean drag cancel."
        f"{_gain(value, single)}"
    )
    title = "Out and back, difference of accelerations"
    return HandResult("out and back", title, 1, True, value, middle, sentence), single


def first_leg(run: OutAndBackRun) -> DecelerationRun:
    """Return the run up to its second move, as a deceleration by itself."""
    inside = run.time_s < run.moves[1].select_s
    return DecelerationRun(
        key=run.key,
        title=run.title,
        source=run.source,
        conditions=run.conditions,
        time_s=run.time_s[inside],
        ias_mps=run.ias_mps[inside],
        altitude_m=run.altitude_m[inside],
        rows=run.rows[inside],
        moves=run.moves[:1],
        entry_gear=run.entry_gear,
        entry_flap_rad=run.entry_flap_rad,
        whole_units_mps=run.whole_units_mps,
    )


def _gain(value: Measured, single: list[HandResult]) -> str:
    """Say how the interval compares with the best of the first leg alone."""
    alone = [result for result in single if result.is_drag]
    if not alone:
        return ""
    best = min(alone, key=lambda result: _half_width(result.value))
    share = _half_width(value) / _half_width(best.value)
    return f" The interval is {share:.2f} of that of the {best.title.lower()} on the first leg alone."


def _half_width(m: Measured) -> float:
    return coverage_factor(0.95, m.dof) * m.standard_uncertainty
