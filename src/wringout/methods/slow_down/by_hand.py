"""The everyday figures of a slow-down or descent: time, distance and height, beside what the airplane would need.

A slow-down is counted from its first reading to the target speed; a descent at a steady speed gives its rate and the
height lost in each nautical mile of still air. Each figure stands beside that of the airplane believed before flight,
and :func:`predicted_figures` gives the same for draws of a fitted one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import calibrated_from_indicated
from wringout.methods.believed import believed
from wringout.methods.level_deceleration.run import configurations, travel_time
from wringout.methods.power_words import disk_power_w
from wringout.methods.slow_down.motion import Figures, candidate, figures_to
from wringout.methods.slow_down.run import SlowDownRun, true_airspeeds
from wringout.methods.steady_climb import airs_at, steady_rate_mps
from wringout.methods.steady_stretches import ALTITUDE_READING_M
from wringout.methods.types import FloatArray, HandResult, Nuisance
from wringout.propagation import Measured, propagate, straight_line_fit
from wringout.units import DEGREE, FOOT, FOOT_PER_MINUTE, KNOT, NAUTICAL_MILE

CROSSING_S = 10.0
SHORTEST_S = 15.0
FIGURES = (
    ("time", "Time", "s", 1.0),
    ("distance", "Still-air distance", "NM", NAUTICAL_MILE),
    ("height", "Height", "ft", FOOT),
)
DOUBTED_SDS = 3.0


def hand_results(run: SlowDownRun, nuisances: tuple[Nuisance, ...], beliefs: Beliefs) -> list[HandResult]:
    """Return the figures seen, each with the one believed before flight in its sentence and as a difference."""
    return _slow_down(run, nuisances, beliefs) if run.slows else _descent(run, nuisances, beliefs)


def predicted_figures(
    run: SlowDownRun, rows: FloatArray, nuisances: Sequence[Nuisance], beliefs: Beliefs
) -> FloatArray:
    """Return time (s), distance (m) and height (m) to the target speed for each parameter row, shape (n, 3).

    ``nuisances`` of the run stand at their means. For draws of a fitted airplane this is what it would have needed.
    """
    values = {n.key: n.mean for n in nuisances}
    out = []
    for row in rows:
        found = _figures(run, row, values, beliefs)
        out.append((found.time_s, found.distance_m, found.height_m))
    return np.array(out)


def _figures(run: SlowDownRun, row: FloatArray, values: Mapping[str, float], beliefs: Beliefs) -> Figures:
    bias = float(row[v.IAS_BIAS]) * _per_ias(run, beliefs)
    marks = np.zeros(len(run.moves))
    return figures_to(run, row, values, marks, run.target_mps * _per_ias(run, beliefs) - bias)


def _per_ias(run: SlowDownRun, beliefs: Beliefs) -> float:
    """Return true over indicated airspeed, mean over the run."""
    return float(np.mean(true_airspeeds(run, beliefs, at_own_height=False) / run.ias_mps))


def seen_figures(run: SlowDownRun, beliefs: Beliefs) -> dict[str, Measured]:
    """Return time (s), distance (m) and height lost (m) from the first reading to the target speed, as read."""
    time, time_sd = _crossing(run, beliefs)
    true, dial = true_airspeeds(run, beliefs, at_own_height=True), _dial(run, beliefs)
    until = run.time_s <= time
    times = np.append(run.time_s[until], time)
    speeds = np.append(true[until], float(np.interp(time, run.time_s, true)))
    path = float(np.sum(0.5 * (speeds[1:] + speeds[:-1]) * np.diff(times)))
    per_ias = _per_ias(run, beliefs)
    bias = beliefs.parameters[beliefs.index("ias_bias")].prior.sd * per_ias
    noise = dial * per_ias * time / math.sqrt(max(int(until.sum()), 1))
    distance = propagate(
        lambda time, readings, bias: path + readings + bias + speeds[-1] * time,
        {"time": (0.0, time_sd), "readings": (0.0, noise), "bias": (0.0, bias * time)},
        "m",
    )
    known = np.isfinite(run.altitude_m)
    height, height_sd = 0.0, run.conditions.altitude_band_m
    if known.sum() >= 2:
        at = float(np.interp(time, run.time_s[known], run.altitude_m[known]))
        height, height_sd = float(run.altitude_m[known][0]) - at, math.sqrt(2.0) * ALTITUDE_READING_M
        height_sd = math.hypot(height_sd, time_sd * abs(run.height_lost_m) / float(run.time_s[-1]))
    return {
        "time": Measured(time, time_sd, "s", {"readings": time_sd}),
        "distance": distance,
        "height": Measured(height, height_sd, "m", {"altitude": height_sd}),
    }


def _dial(run: SlowDownRun, beliefs: Beliefs) -> float:
    return float(np.hypot(beliefs.instrument.reading_sd_mps, run.whole_units_mps / math.sqrt(12.0)))


def _crossing(run: SlowDownRun, beliefs: Beliefs) -> tuple[float, float]:
    """Return when the target speed was passed, s, and its standard uncertainty, by a line through readings near it."""
    below = np.flatnonzero(run.ias_mps <= run.target_mps + 1e-9)
    about = float(run.time_s[below[0]]) if below.size else float(run.time_s[-1])
    near = np.abs(run.time_s - about) <= CROSSING_S
    if near.sum() < 3:
        order = np.argsort(np.abs(run.time_s - about))[:3]
        near = np.isin(np.arange(run.time_s.size), order)
    line = straight_line_fit(run.time_s[near], run.ias_mps[near])
    dial = math.hypot(_dial(run, beliefs), line.slope * beliefs.instrument.clock_sd_s)
    if line.slope >= -0.02 * KNOT:
        return about, float(np.ptp(run.time_s[near])) / math.sqrt(12.0)
    time = (run.target_mps - line.intercept) / line.slope
    times = run.time_s[near]
    leverage = 1.0 / times.size + (time - times.mean()) ** 2 / float(np.sum((times - times.mean()) ** 2))
    return float(np.clip(time, 0.0, run.time_s[-1])), dial * math.sqrt(leverage) / abs(line.slope)


def _slow_down(run: SlowDownRun, nuisances: tuple[Nuisance, ...], beliefs: Beliefs) -> list[HandResult]:
    seen, values = seen_figures(run, beliefs), {n.key: n.mean for n in nuisances}
    first, target = float(run.ias_mps[0]) / KNOT, run.target_mps / KNOT
    reached = _figures(run, beliefs.prior_row(), values, beliefs).reached
    middle = float(true_airspeeds(run, beliefs, at_own_height=True).mean())
    out = []
    for key, title, unit, size in FIGURES:
        if key == "height" and abs(run.height_lost_m) < 50.0 * FOOT:
            continue

        def figure(row: FloatArray, changed: Mapping[str, float], key: str = key, size: float = size) -> float:
            found = _figures(run, row, {**values, **changed}, beliefs)
            return {"time": found.time_s, "distance": found.distance_m, "height": found.height_m}[key] / size

        value = _scaled(seen[key], size, unit)
        expected = _expected(figure, nuisances, beliefs, unit, _dial(run, beliefs))
        sentence = f"From {first:.0f} to {target:.0f} kt indicated, {run.title}. {_beside(value, expected, reached)}"
        out.append(
            HandResult(key, f"{title} to slow from {first:.0f} to {target:.0f} kt", 1, False, value, middle, sentence)
        )
    said = "".join(f" {note}" for note in run.notes)
    return [HandResult(r.key, r.title, r.strength, r.is_drag, r.value, r.speed_mps, r.sentence + said) for r in out]


def _scaled(m: Measured, size: float, unit: str) -> Measured:
    budget = {name: part / size for name, part in m.budget.items()}
    return Measured(m.value / size, m.standard_uncertainty / size, unit, budget, m.dof)


def _expected(
    figure: Callable[[FloatArray, Mapping[str, float]], float],
    nuisances: tuple[Nuisance, ...],
    beliefs: Beliefs,
    unit: str,
    entry_sd_mps: float,
) -> Measured:
    """Return a figure of the airplane believed before flight, its doubt that of every parameter and of the run.

    ``entry_sd_mps`` is how well the speed at the first reading is known; as a nuisance of the fit it starts wider.
    """
    belief = believed(lambda row: figure(row, {}), beliefs, unit)
    row, budget = beliefs.prior_row(), dict(belief.budget)
    for n in nuisances:
        sd = entry_sd_mps if n.key == "entry speed" else n.sd
        ends = [figure(row, {n.key: n.mean + sign * sd}) for sign in (1.0, -1.0)]
        budget[n.share] = math.hypot(budget.get(n.share, 0.0), 0.5 * abs(ends[0] - ends[1]))
    sd = math.sqrt(sum(part**2 for part in budget.values()))
    return Measured(belief.value, sd, unit, budget)


def _beside(seen: Measured, expected: Measured, reached: bool) -> str:
    """Say what the airplane believed before flight needs, and whether that agrees."""
    if not reached:
        return "The airplane believed before flight would not get there with this power."
    said = f"The airplane believed before flight needs {expected}"
    apart = abs(seen.value - expected.value) / math.hypot(seen.standard_uncertainty, expected.standard_uncertainty)
    if apart <= DOUBTED_SDS:
        return f"{said}, which agrees."
    return (
        f"{said}, {apart:.1f} standard deviations off: not the power stated, a device out, or other drag than believed."
    )


def _words(m: Measured, unit: str) -> str:
    return f"{m} " if unit == "" else str(m)


def _descent(run: SlowDownRun, nuisances: tuple[Nuisance, ...], beliefs: Beliefs) -> list[HandResult]:
    """Return rate of descent and height lost in each mile after the last device has stopped, or one row of why not."""
    row = beliefs.prior_row()
    settled = max((move.select_s + 1.3 * travel_time(row, move) for move in run.moves), default=0.0)
    inside = np.isfinite(run.altitude_m) & (run.time_s >= settled)
    if inside.sum() < 3 or np.ptp(run.time_s[inside]) < SHORTEST_S:
        return []
    line = straight_line_fit(run.time_s[inside], run.altitude_m[inside])
    sd = ALTITUDE_READING_M / (float(np.std(run.time_s[inside])) * math.sqrt(int(inside.sum())))
    gear, flap = next((g, f) for g, f, where in reversed(configurations(run, run.time_s)) if where[inside].any())
    values = {n.key: n.mean for n in nuisances}

    def rate(row: FloatArray, changed: Mapping[str, float]) -> float:
        return _steady_rate(run, row, {**values, **changed}, inside, (gear, flap), beliefs)

    speed = float(true_airspeeds(run, beliefs, at_own_height=True)[inside].mean())
    bias = beliefs.parameters[beliefs.index("ias_bias")].prior.sd
    said = f"{run.title}, at {run.ias_mps[inside].mean() / KNOT:.0f} kt indicated, still air."
    notes = "".join(f" {note}" for note in run.notes)
    out = []
    for key, title, unit, per_mile in (
        ("descent rate", "Rate of descent", "ft/min", False),
        ("height per mile", "Height lost in a nautical mile", "ft", True),
    ):
        shown = partial(_descent_figure, per_mile=per_mile)
        value = propagate(shown, {"rate": (-line.slope, max(sd, 1e-9)), "speed": (speed, bias)}, unit)

        def figure(row: FloatArray, changed: Mapping[str, float], shown: Callable[..., float] = shown) -> float:
            return shown(rate=-rate(row, changed), speed=speed)

        expected = _expected(figure, nuisances, beliefs, unit, _dial(run, beliefs))
        count = int(inside.sum())
        sentence = f"Straight line through {count} altitudes, {said} {_beside(value, expected, True)}{notes}"
        out.append(HandResult(key, title, 1, False, value, speed, sentence))
    return out


def _descent_figure(rate: float, speed: float, per_mile: bool) -> float:
    """Return a rate of descent (m/s) in ft/min, or the feet lost in each nautical mile at a true airspeed (m/s)."""
    return rate / speed * NAUTICAL_MILE / FOOT if per_mile else rate / FOOT_PER_MINUTE


def _steady_rate(
    run: SlowDownRun,
    row: FloatArray,
    values: Mapping[str, float],
    inside: NDArray[np.bool_],
    configuration: tuple[float, float],
    beliefs: Beliefs,
) -> float:
    """Return the steady change of altitude as read, m/s, of a candidate at the mean speed and height of a stretch."""
    air, gear, flap = run.conditions, *configuration
    height = np.array([air.pressure_altitude_m if run.geometric else float(run.altitude_m[inside].mean())])
    deviation = np.array([air.isa_deviation_k])
    drift = np.array([float(np.polyfit(run.time_s[inside], run.ias_mps[inside], 1)[0])])
    read = np.array([float(run.ias_mps[inside].mean()) - float(row[v.IAS_BIAS])])
    calibrated = calibrated_from_indicated(read, beliefs.instrument.position_error, flap / DEGREE, gear)
    (point,) = airs_at(calibrated, height, deviation, drift)
    moved, mass = candidate(run, row, values), air.mass_kg * float(row[v.MASS_FACTOR])
    thrust = 0.0
    if run.power.pulls:
        factor, shaft = values.get("power factor", 1.0), float(run.power.shaft_w[0])
        power = disk_power_w(row, run.power.kind, shaft, point.density_kgm3, factor)
        thrust = float(forces.thrust(moved, power, point.speed_mps, point.density_kgm3))
    rate = steady_rate_mps(moved, point, mass, gear, flap, thrust)
    return rate / (1.0 if run.geometric else point.temperature_ratio)
