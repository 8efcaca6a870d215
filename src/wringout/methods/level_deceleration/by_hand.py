"""Closed-form reductions of one level deceleration that a person could check with a calculator.

Each is propagated linearly from its inputs (GUM), with the share of every input in the interval. They lean on two
readings of the run and on the clean polar and propeller law believed before the flight; the joint fit does better.
"""

from __future__ import annotations

import math

import numpy as np

from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.atmosphere import density_kgm3
from wringout.methods.level_deceleration.run import DecelerationRun, travel_time
from wringout.methods.types import FloatArray, HandResult
from wringout.propagation import Measured, propagate, straight_line_fit
from wringout.units import KNOT, SQUARE_FOOT, STANDARD_GRAVITY

SETTLED_SLOPE_MPS2 = 0.04 * KNOT
SETTLED_WINDOW_S = 25.0
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
    return out


def _entry(run: DecelerationRun, true_mps: FloatArray, beliefs: Beliefs) -> tuple[float, float]:
    """Return entry true airspeed and its standard uncertainty."""
    before = true_mps[run.time_s <= run.moves[0].select_s + 0.5]
    values = before if before.size else true_mps[:1]
    return float(np.mean(values)), beliefs.instrument.reading_sd_mps / math.sqrt(values.size)


def _last_time(run: DecelerationRun) -> float:
    """Return when the first configuration ends: the second move, or the last reading."""
    return run.moves[1].select_s if len(run.moves) > 1 else float(run.time_s[-1]) + 1.0


def _settled(run: DecelerationRun, true_mps: FloatArray, beliefs: Beliefs) -> tuple[float, float] | None:
    """Return settled true airspeed and its standard uncertainty, or None when the speed was still falling."""
    end = _last_time(run)
    until = run.time_s < end
    last = float(run.time_s[until][-1])
    window = until & (run.time_s >= last - SETTLED_WINDOW_S) & (run.time_s > run.moves[0].select_s + 20.0)
    if window.sum() < 3:
        return None
    slope = float(np.polyfit(run.time_s[window], true_mps[window], 1)[0])
    spread = float(np.ptp(run.time_s[window]))
    slope_sd = beliefs.instrument.reading_sd_mps / (spread / math.sqrt(12.0) * math.sqrt(window.sum()))
    if abs(slope) > SETTLED_SLOPE_MPS2 + slope_sd:
        return None
    return float(np.mean(true_mps[window])), beliefs.instrument.reading_sd_mps / math.sqrt(window.sum())


def _believed(beliefs: Beliefs) -> dict[str, tuple[float, float]]:
    """Return the priors the hand methods lean on, as (value, sd)."""
    row = beliefs.prior_row()
    keys = ("clean_area", "span_efficiency", "glide_ratio", "glide_speed", "efficiency_slope")
    out = {p.key: (p.prior.value, p.prior.sd) for p in beliefs.parameters if p.key in keys}
    if "glide_ratio" in out:
        # the polar pair in place of the glide pair, with first-order spreads: f ~ V^-2 r^-1, e ~ r V^-2
        ratio, speed = out.pop("glide_ratio"), out.pop("glide_speed")
        share = math.hypot(ratio[1] / ratio[0], 2.0 * speed[1] / speed[0])
        out["clean_area"] = (float(row[v.F_CLEAN]), float(row[v.F_CLEAN]) * share)
        out["span_efficiency"] = (float(row[v.OSWALD]), float(row[v.OSWALD]) * share)
    return out


def _excess_thrust(
    beliefs: Beliefs,
    mass: float,
    density: float,
    entry: float,
    speed: float,
    polar: dict[str, float],
    run: DecelerationRun,
) -> float:
    """Return thrust minus entry-configuration drag at ``speed``, N, with the power that balanced at ``entry``."""
    a = beliefs.prior_row()
    a[v.F_CLEAN], a[v.OSWALD] = polar["clean_area"], polar["span_efficiency"]
    a[v.EFFICIENCY_SLOPE] = polar["efficiency_slope"]
    weight = mass * STANDARD_GRAVITY
    at_entry = forces.drag(a, entry, density, weight, run.entry_gear, run.entry_flap_rad)
    power = forces.reference_disk_power(a, at_entry, entry, density)
    now = forces.drag(a, speed, density, weight, run.entry_gear, run.entry_flap_rad)
    return float(forces.thrust(a, power, speed, density) - now)


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

    def area(slope: float, mass: float, entry_speed: float, **polar: float) -> float:
        excess = _excess_thrust(beliefs, mass, density, entry_speed, speed, polar, run)
        return (-mass * slope + excess) / (0.5 * density * speed**2)

    inputs = {
        "slope": (line.slope, noise / spread),
        "mass": (run.conditions.mass_kg, run.conditions.mass_kg * _mass_share(beliefs)),
        "entry_speed": entry,
        **_believed(beliefs),
    }
    value = _in_square_feet(propagate(area, inputs, "m2"))
    return HandResult(
        "start slope",
        "Start slope",
        2,
        True,
        value,
        speed,
        f"Over the first {run.time_s[window][-1] - run.time_s[window][0]:.0f} s with the device out the speed fell at "
        f"{-line.slope / KNOT:.2f} kt/s; mass times that, over dynamic pressure.",
    )


def _mass_share(beliefs: Beliefs) -> float:
    return beliefs.parameters[beliefs.index("mass_factor")].prior.sd


def _settled_speeds(
    run: DecelerationRun, entry: tuple[float, float], settled: tuple[float, float], beliefs: Beliefs
) -> HandResult:
    """Return the device's area from two settled speeds and the believed thrust law."""
    density = float(density_kgm3(run.conditions.pressure_altitude_m, run.conditions.isa_deviation_k))

    def area(mass: float, entry_speed: float, settled_speed: float, **polar: float) -> float:
        excess = _excess_thrust(beliefs, mass, density, entry_speed, settled_speed, polar, run)
        return excess / (0.5 * density * settled_speed**2)

    inputs = {
        "mass": (run.conditions.mass_kg, run.conditions.mass_kg * _mass_share(beliefs)),
        "entry_speed": entry,
        "settled_speed": settled,
        **_believed(beliefs),
    }
    return HandResult(
        "settled speeds",
        "Settled speeds",
        4,
        True,
        _in_square_feet(propagate(area, inputs, "m2")),
        settled[0],
        "At both settled speeds thrust equals drag; how much thrust grew as the speed fell comes from the believed "
        "propeller law, so its doubt is the answer's doubt.",
    )


def _knots_lost(run: DecelerationRun, entry: tuple[float, float], settled: tuple[float, float] | None) -> HandResult:
    """Return the indicated speed lost, kt; a lower bound when the run never settled."""
    before = run.ias_mps[run.time_s <= run.moves[0].select_s + 0.5]
    start = float(np.mean(before)) if before.size else float(run.ias_mps[0])
    until = run.time_s < _last_time(run)
    tail = run.ias_mps[until][-3:]
    lost = (start - float(np.mean(tail))) / KNOT
    scale = entry[1] / KNOT
    sd = math.hypot(scale, (settled[1] if settled else entry[1]) / KNOT)
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
