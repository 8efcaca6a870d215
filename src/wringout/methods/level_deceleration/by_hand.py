"""Closed-form reductions of one level deceleration that a person could check with a calculator.

Each is propagated linearly from its inputs (GUM), with the share of every input in the interval. They lean on a few
readings of the run and on the clean polar and propeller law believed before the flight; the joint fit does better.
Altitude drift is energy: the climb rate joins the acceleration as ``(g/V) dh/dt``. Areas are those of the first move's
device, positive also where it was retracted.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wringout.airplane import forces
from wringout.airplane.beliefs import Beliefs
from wringout.atmosphere import density_kgm3
from wringout.methods.level_deceleration.ballooning import BACK_S, climbed_sd_mps
from wringout.methods.level_deceleration.run import (
    SETTLING_SD_MPS2,
    DecelerationRun,
    mean_climb,
    travel_time,
)
from wringout.methods.types import FloatArray, HandResult
from wringout.propagation import Measured, propagate, straight_line_fit
from wringout.recordings.types import Device
from wringout.units import KNOT, SQUARE_FOOT, STANDARD_GRAVITY

SETTLED_SLOPE_MPS2 = 0.04 * KNOT
SETTLED_WINDOW_S = 25.0
SETTLED_LONGEST_S = 60.0
START_WINDOW_S = 22.0


def hand_results(run: DecelerationRun, true_mps: FloatArray, beliefs: Beliefs) -> list[HandResult]:
    """Return what can be had by hand from the run's first move, strongest first; ``true_mps`` is TAS per reading."""
    entry = _entry(run, true_mps, beliefs)
    settled = _settled(run, true_mps, beliefs)
    out = []
    start = _start_slope(run, true_mps, entry, beliefs)
    if start is not None:
        out.append(start)
    if settled is not None:
        out.append(_settled_speeds(run, entry, settled, beliefs))
    out.append(_knots_lost(run, entry, settled))
    arrival = _transit_time(run, beliefs)
    return out if arrival is None else [*out, arrival]


def _mean_before(run: DecelerationRun, speeds_mps: FloatArray) -> float:
    """Return the mean of speeds up to the first move, else the first one."""
    before = speeds_mps[run.time_s <= run.moves[0].select_s + 0.5]
    return float(np.mean(before if before.size else speeds_mps[:1]))


def _entry(run: DecelerationRun, true_mps: FloatArray, beliefs: Beliefs) -> tuple[float, float]:
    """Return entry true airspeed and its standard uncertainty."""
    count = max(int(np.sum(run.time_s <= run.moves[0].select_s + 0.5)), 1)
    return _mean_before(run, true_mps), beliefs.instrument.reading_sd_mps / math.sqrt(count)


def _last_time(run: DecelerationRun) -> float:
    """Return when the first configuration ends: the second move, or the last reading."""
    return run.moves[1].select_s if len(run.moves) > 1 else float(run.time_s[-1]) + 1.0


@dataclass(frozen=True, slots=True)
class _Settled:
    """Last stretch of a run, between two times: true airspeed, m/s, and its change, m/s2, each with its uncertainty."""

    speed: tuple[float, float]
    slope: tuple[float, float]
    from_s: float
    to_s: float


def _settled(run: DecelerationRun, true_mps: FloatArray, beliefs: Beliefs) -> _Settled | None:
    """Return the settled stretch: the last 25 s, or three readings if they are sparse; None while still changing."""
    end = _last_time(run)
    until = run.time_s < end
    times = run.time_s[until]
    last = float(times[-1])
    start = max(min(last - SETTLED_WINDOW_S, float(times[-3:][0])), last - SETTLED_LONGEST_S)
    still = max(20.0, travel_time(beliefs.prior_row(), run.moves[0]) + BACK_S)
    window = until & (run.time_s >= start) & (run.time_s > run.moves[0].select_s + still)
    if window.sum() < 3:
        return None
    slope = float(np.polyfit(run.time_s[window], true_mps[window], 1)[0])
    spread = float(np.ptp(run.time_s[window]))
    slope_sd = beliefs.instrument.reading_sd_mps / (spread / math.sqrt(12.0) * math.sqrt(window.sum()))
    if abs(slope) > SETTLED_SLOPE_MPS2 + slope_sd:
        return None
    speed = float(np.mean(true_mps[window])), beliefs.instrument.reading_sd_mps / math.sqrt(window.sum())
    return _Settled(speed, (slope, slope_sd), last - spread, last)


LEANED_ON = (
    "clean_area",
    "span_efficiency",
    "clean_slope",
    "glide_ratio",
    "glide_speed",
    "efficiency_slope",
    "thrust_bend",
)
"""Parameters of the airplane that the hand methods take from what was believed before flight."""


def _believed(beliefs: Beliefs) -> dict[str, tuple[float, float]]:
    """Return the priors the hand methods lean on, as (value, sd)."""
    return {p.key: (p.prior.value, p.prior.sd) for p in beliefs.parameters if p.key in LEANED_ON}


def _excess_thrust(
    beliefs: Beliefs,
    x: Mapping[str, float],
    density: float,
    entry: float,
    speed: float,
    run: DecelerationRun,
) -> float:
    """Return thrust minus entry-configuration drag at ``speed``, N, with the power that was set at ``entry``."""
    leaned_on = {key: x[key] for key in LEANED_ON if key in x}
    a = beliefs.row({**{p.key: p.prior.value for p in beliefs.parameters}, **leaned_on})
    weight = x["mass"] * STANDARD_GRAVITY
    at_entry = forces.drag(a, entry, density, weight, run.entry_gear, run.entry_flap_rad)
    power = forces.reference_disk_power(a, at_entry + x["mass"] * x["settling"], entry, density)
    now = forces.drag(a, speed, density, weight, run.entry_gear, run.entry_flap_rad)
    return float(forces.thrust(a, power, speed, density) - now)


def _common_inputs(
    run: DecelerationRun, entry: tuple[float, float], beliefs: Beliefs
) -> dict[str, tuple[float, float]]:
    """Return the inputs that the start slope and the settled speeds share, as (value, standard uncertainty).

    ``settling`` is the acceleration at entry, m/s2, with the energy of the climb there.
    """
    bias = beliefs.parameters[beliefs.index("ias_bias")].prior
    share = beliefs.parameters[beliefs.index("mass_factor")].prior
    rise = STANDARD_GRAVITY / entry[0]
    at_entry, climb_sd = mean_climb(run, 0.0, 1.0)
    return {
        "mass": (run.conditions.mass_kg * share.value, run.conditions.mass_kg * share.sd),
        "entry_speed": entry,
        "dial_bias": (bias.value, bias.sd),
        "settling": (rise * at_entry, math.hypot(SETTLING_SD_MPS2, rise * climb_sd)),
        **_believed(beliefs),
    }


def _first_sign(run: DecelerationRun) -> float:
    """Return 1 where the first move put the device out, -1 where it took it in."""
    return 1.0 if run.moves[0].to_position > run.moves[0].from_position else -1.0


def _in_square_feet(m: Measured) -> Measured:
    """Return a measured area, m2, in ft2."""
    return Measured(
        m.value / SQUARE_FOOT,
        m.standard_uncertainty / SQUARE_FOOT,
        "ft2",
        {name: part / SQUARE_FOOT for name, part in m.budget.items()},
        m.dof,
    )


def _start_slope(
    run: DecelerationRun, true_mps: FloatArray, entry: tuple[float, float], beliefs: Beliefs
) -> HandResult | None:
    """Return the device's area from the slope of speed against time just after it is out.

    ``f = -m dV/dt / q`` plus the small excess of thrust over clean drag that has opened since entry.
    """
    move = run.moves[0]
    out_at = move.arrived_s if move.arrived_s is not None else move.select_s + travel_time(beliefs.prior_row(), move)
    window = (run.time_s >= out_at - 0.5) & (run.time_s <= min(out_at + START_WINDOW_S, _last_time(run) - 0.1))
    if window.sum() < 3:
        return None
    middle = float(np.mean(run.time_s[window]))
    line = straight_line_fit((run.time_s[window] - middle).tolist(), true_mps[window].tolist())
    noise = math.hypot(beliefs.instrument.reading_sd_mps, line.slope * beliefs.instrument.clock_sd_s)
    spread = float(np.std(run.time_s[window])) * math.sqrt(window.sum())
    density = float(density_kgm3(run.conditions.pressure_altitude_m, run.conditions.isa_deviation_k))
    speed = float(line.intercept)

    entry_ias = _mean_before(run, run.ias_mps)
    per_ias = entry[0] / entry_ias  # true over indicated speed, for the dial bias
    first, last = float(run.time_s[window][0]), float(run.time_s[window][-1])
    climbed, climb_sd = mean_climb(run, first, last)
    climb = climbed, math.hypot(climb_sd, climbed_sd_mps(run, move, last - first))

    def area(**x: float) -> float:
        at, before = speed - per_ias * x["dial_bias"], x["entry_speed"] - per_ias * x["dial_bias"]
        excess = _excess_thrust(beliefs, x, density, before, at, run)
        slowing = -x["slope"] - STANDARD_GRAVITY / at * x["climb"]
        return _first_sign(run) * (x["mass"] * slowing + excess) / (0.5 * density * at**2)

    inputs = {
        "slope": (line.slope, noise / spread),
        "climb": climb,
        **_common_inputs(run, entry, beliefs),
    }
    value = _in_square_feet(propagate(area, inputs, "m2"))
    change = "fell" if line.slope < 0.0 else "rose"
    return HandResult(
        "start slope",
        "Start slope",
        2,
        True,
        value,
        speed,
        f"Over the first {last - first:.0f} s after the travel the speed {change} at "
        f"{abs(line.slope) / KNOT:.2f} kt/s: mass times that, with the thrust that has opened since entry, over "
        "dynamic pressure.",
    )


def _settled_speeds(
    run: DecelerationRun, entry: tuple[float, float], settled: _Settled, beliefs: Beliefs
) -> HandResult:
    """Return the device's area from two settled speeds and the believed thrust law.

    What is left of the change of speed is taken off with its uncertainty: a few readings cannot show that it is nil.
    """
    density = float(density_kgm3(run.conditions.pressure_altitude_m, run.conditions.isa_deviation_k))

    per_ias = entry[0] / _mean_before(run, run.ias_mps)

    def area(**x: float) -> float:
        at, before = x["settled_speed"] - per_ias * x["dial_bias"], x["entry_speed"] - per_ias * x["dial_bias"]
        excess = _excess_thrust(beliefs, x, density, before, at, run)
        unsettled = x["mass"] * (x["slope"] + STANDARD_GRAVITY / at * x["climb"])
        return _first_sign(run) * (excess - unsettled) / (0.5 * density * at**2)

    inputs = {
        "settled_speed": settled.speed,
        "slope": settled.slope,
        "climb": mean_climb(run, settled.from_s, settled.to_s),
        **_common_inputs(run, entry, beliefs),
    }
    return HandResult(
        "settled speeds",
        "Settled speeds",
        4,
        True,
        _in_square_feet(propagate(area, inputs, "m2")),
        settled.speed[0],
        "At both settled speeds thrust equals drag; how much thrust grew as the speed fell comes from the believed "
        "propeller law, so its doubt is the answer's doubt.",
    )


def _knots_lost(run: DecelerationRun, entry: tuple[float, float], settled: _Settled | None) -> HandResult:
    """Return the indicated speed lost, kt; a lower bound when the run never settled."""
    start = _mean_before(run, run.ias_mps)
    until = run.time_s < _last_time(run)
    tail = run.ias_mps[until][-3:]
    lost = (start - float(np.mean(tail))) / KNOT
    scale = entry[1] / KNOT
    sd = math.hypot(scale, (settled.speed[1] if settled else entry[1]) / KNOT)
    never = "" if settled is not None else " The speed had not settled, so this is what was lost so far."
    return HandResult(
        "knots lost",
        "Knots lost (not a drag)",
        5,
        False,
        Measured(lost, sd, "kt", {}),
        float("nan"),
        "Knots lost are not a drag: the same force costs more knots at low speed, and the propeller pulls harder as "
        f"the airplane slows.{never}",
    )


def _transit_time(run: DecelerationRun, beliefs: Beliefs) -> HandResult | None:
    """Return the time of the first move when its arrival was called, s."""
    move = run.moves[0]
    if move.arrived_s is None:
        return None
    clock = beliefs.instrument.clock_sd_s
    value = propagate(
        lambda selected, arrived: arrived - selected,
        {"selected": (move.select_s, clock), "arrived": (move.arrived_s, clock)},
        "s",
    )
    device = "Gear" if move.device is Device.GEAR else "Flap"
    return HandResult(
        "transit time",
        f"{device} travel time",
        1,
        False,
        value,
        float("nan"),
        "From the call of the selection to the call of the arrival.",
    )
