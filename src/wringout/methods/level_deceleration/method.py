"""Level deceleration: a device goes out at fixed power and the airspeed is read as it falls.

The strongest use of the run is its whole speed history, fitted through the equation of motion together with all other
runs of the study (``predict``). ``by_hand`` gives the closed-form reductions that people quote, each with its interval:
start slope, settled speeds, and the knots lost, which are not a drag.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.limits import Exceedance
from wringout.airspeed import calibrated_from_true, true_from_calibrated
from wringout.atmosphere import density_kgm3
from wringout.methods.level_deceleration.ballooning import ballooned, ballooning
from wringout.methods.level_deceleration.build import runs_from_recording
from wringout.methods.level_deceleration.by_hand import hand_results
from wringout.methods.level_deceleration.run import (
    KEY,
    SETTLING_SD_MPS2,
    DecelerationRun,
    calibrated_readings,
    climb_polynomial,
    climb_sd_mps,
    configurations,
    entry_speed_mps,
    indicated_speeds,
    knots,
    motion_start_s,
    travel_time,
    true_entries_mps,
)
from wringout.methods.level_deceleration.words import deceleration_card, deceleration_guard
from wringout.methods.speed_history import speed_histories
from wringout.methods.speed_readings import STEP_S, drawn_nuisances, simulated_readings, speed_reading_sd
from wringout.methods.types import Card, FloatArray, GuardNotice, HandResult, Nuisance
from wringout.recordings.types import Device, Recording
from wringout.units import KNOT

RUN_TO_RUN = 0.02
"""How much a device's area may differ between runs, as a share of it; where the estimate starts (judged)."""

PROPELLER_SCATTER = 0.15
"""How much the propeller slope may differ between entry powers: share of it (fixed pitch) or of 1 (constant speed)."""
GEAR_MOVING_S = 10.0
"""How long after its selection a gear is taken to be moving, for its operating limit [s] (judged)."""


class LevelDeceleration:
    """The method object; see :class:`wringout.methods.types.Method`."""

    key = KEY
    title = "Level deceleration"
    observed_unit = "kt"
    ignores = frozenset(
        {v.DISK_EFFICIENCY, v.RATED_POWER, v.ALTITUDE_LAW, v.LIFT_SLOPE, v.STALL_RATE_SLOPE}
        | set(range(v.CL_MAXES, v.CL_MAXES + v.MAX_SETTINGS))
    )

    def from_recording(
        self, key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs
    ) -> list[DecelerationRun]:
        """Build the run; see :func:`runs_from_recording`."""
        return runs_from_recording(key, recording, setup, beliefs)

    def exceedances(self, run: DecelerationRun, beliefs: Beliefs) -> list[Exceedance]:
        """Return the limit speeds that readings went beyond, worst reading of each."""
        limits = beliefs.limits
        checks: list[tuple[str, float | None, NDArray[np.bool_]]] = [
            ("VNE", limits.never_exceed_mps, np.ones(run.time_s.size, dtype=bool))
        ]
        for gear, flap_rad, where in configurations(run, run.time_s):
            if gear > 0.0:
                checks.append(("VLE", limits.gear_extended_mps, where))
            if flap_rad > 0.0:
                setting = min(beliefs.settings, key=lambda s: abs(s.angle_rad - flap_rad))
                checks.append((f"VFE ({setting.name})", limits.flap_limit(setting.name), where))
        for move in run.moves:
            if move.device is Device.GEAR:
                limit = limits.gear_operate_mps if move.to_position > move.from_position else limits.gear_retract_mps
                moving = (run.time_s >= move.select_s) & (run.time_s <= move.select_s + GEAR_MOVING_S)
                checks.append(("VLO", limit, moving))
        worst: dict[tuple[str, float], Exceedance] = {}
        for label, limit, where in checks:
            if limit is None or not where.any():
                continue
            speeds = np.where(where, run.ias_mps, 0.0)
            at = int(np.argmax(speeds))
            seen = float(speeds[at])
            known = worst.get((label, limit))
            if seen > limit + 0.25 * KNOT and (known is None or seen > known.seen_mps):
                worst[(label, limit)] = Exceedance(label, limit, seen, int(run.rows[at]))
        return list(worst.values())

    def nuisances(self, run: DecelerationRun, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        """Entry speed as read, how well it was settled, the clock of each mark, and the unseen parts of the height.

        Where no speed was read before the device moved, the entry speed may be 1 kt more off for each second's delay.
        """
        late = max(float(run.time_s[0]) - run.moves[0].select_s - 0.5, 0.0)
        clock_sd_s = math.hypot(beliefs.instrument.clock_sd_s, run.clock_sd_s)
        marks = [Nuisance(f"mark {i + 1}", 0.0, clock_sd_s, "mark time") for i in range(len(run.moves))]
        return (
            Nuisance("entry speed", entry_speed_mps(run), (6.0 + late) * KNOT, "entry speed"),
            Nuisance("entry acceleration", 0.0, SETTLING_SD_MPS2, "settling at entry"),
            Nuisance("climb", 0.0, climb_sd_mps(run), "altitude drift"),
            Nuisance("propeller", 0.0, 1.0, "propeller at this power"),
            Nuisance("run to run", 0.0, RUN_TO_RUN, "run-to-run scatter", f"{KEY}, {run.moves[0].device}"),
            *marks,
            *ballooning(run),
        )

    def observed(self, run: DecelerationRun) -> FloatArray:
        """Return indicated airspeeds, m/s."""
        return run.ias_mps

    def predict(self, run: DecelerationRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the indicated airspeeds the candidate would have shown, m/s."""
        return self.curve(run, row, nuisance, beliefs, run.time_s)

    def predict_many(
        self, run: DecelerationRun, rows: FloatArray, nuisances: FloatArray, beliefs: Beliefs
    ) -> FloatArray:
        """Return the predictions of k candidates, m/s, shape (k, n), from ``rows`` (k, SIZE), ``nuisances`` (k, m)."""
        return self._indicated(run, rows, nuisances, beliefs, run.time_s)

    def curve(
        self, run: DecelerationRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs, times_s: FloatArray
    ) -> FloatArray:
        """Return indicated airspeed, m/s, at any rising times (s from the first reading) of the run."""
        return np.asarray(self._indicated(run, row[np.newaxis], nuisance[np.newaxis], beliefs, times_s)[0])

    def _indicated(
        self, run: DecelerationRun, rows: FloatArray, nuisances: FloatArray, beliefs: Beliefs, times_s: FloatArray
    ) -> FloatArray:
        air = run.conditions
        true = true_airspeeds(run, rows, nuisances, times_s)
        calibrated = calibrated_from_true(true, air.pressure_altitude_m, air.isa_deviation_k)
        indicated = indicated_speeds(run, calibrated, times_s, beliefs.instrument.position_error)
        return np.asarray(indicated + rows[:, v.IAS_BIAS, np.newaxis])

    def true_airspeed(
        self, run: DecelerationRun, row: FloatArray, nuisance: FloatArray, times_s: FloatArray
    ) -> FloatArray:
        """Return true airspeed, m/s, of the candidate at rising times; see :func:`true_airspeeds`."""
        return np.asarray(true_airspeeds(run, row[np.newaxis], nuisance[np.newaxis], times_s)[0])

    def reading_sd(self, run: DecelerationRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return reading noise: the dial, its whole units, and the clock times the rate of change of speed."""
        times = np.maximum(run.time_s, 0.0)
        ahead = self.true_airspeed(run, row, nuisance, times + STEP_S)
        slope = (ahead - self.true_airspeed(run, row, nuisance, times)) / STEP_S
        return speed_reading_sd(beliefs.instrument, run.whole_units_mps, slope)

    def residuals(self, run: DecelerationRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return (observed - predicted) / sd, shape (n,)."""
        predicted = self.predict(run, row, nuisance, beliefs)
        return (run.ias_mps - predicted) / self.reading_sd(run, row, nuisance, beliefs)

    def by_hand(self, run: DecelerationRun, beliefs: Beliefs) -> list[HandResult]:
        """Return start slope, settled speeds and knots lost."""
        air = run.conditions
        calibrated = calibrated_readings(run, beliefs.instrument.position_error)
        true = true_from_calibrated(calibrated, air.pressure_altitude_m, air.isa_deviation_k)
        return hand_results(run, true, beliefs)

    def simulate(
        self, run: DecelerationRun, row: FloatArray, beliefs: Beliefs, rng: np.random.Generator
    ) -> DecelerationRun:
        """Return the run as the airplane would produce it: nuisances drawn, clock and dial noise, whole units."""
        drawn = drawn_nuisances(self.nuisances(run, beliefs), rng)
        instrument, unit = beliefs.instrument, run.whole_units_mps
        read = simulated_readings(
            instrument, unit, run.time_s, rng, lambda times_s: self.curve(run, row, drawn, beliefs, times_s)
        )
        return replace(run, ias_mps=read)

    def card(self, beliefs: Beliefs, words: dict[str, str]) -> Card:
        """Return the test card of a level deceleration."""
        return deceleration_card(words)

    def guard(self, beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
        """Hold the planned entry speed and device against the limits."""
        return deceleration_guard(beliefs, words)


METHOD = LevelDeceleration()


def true_airspeeds(run: DecelerationRun, rows: FloatArray, nuisances: FloatArray, times_s: FloatArray) -> FloatArray:
    """Return true airspeeds, m/s, shape (k, n), of k candidates at n rising times, ballooning at each move."""
    return with_heights(run, rows, nuisances, times_s, level_airspeeds(run, rows, nuisances, times_s))


def with_heights(
    run: DecelerationRun, rows: FloatArray, nuisances: FloatArray, times_s: FloatArray, level_mps: FloatArray
) -> FloatArray:
    """Return true airspeeds (k, n), m/s, from those without ballooning: each move has a height of its own."""
    last = 5 + len(run.moves)
    marks, heights = nuisances[:, 5:last], nuisances[:, last:]
    moves = [
        (move.select_s + marks[:, i], np.array([travel_time(row, move) for row in rows]))
        for i, move in enumerate(run.moves)
    ]
    return ballooned(level_mps, times_s, heights, moves)


def level_airspeeds(run: DecelerationRun, rows: FloatArray, nuisances: FloatArray, times_s: FloatArray) -> FloatArray:
    """Return true airspeeds, m/s, shape (k, n), of k candidates at n rising times, with no ballooning.

    The motion starts in the entry configuration, at the first reading or where a device moved before it.
    """
    air, count = run.conditions, rows.shape[0]
    moved = np.empty_like(rows)
    starts = np.empty(count)
    gear: list[tuple[FloatArray, FloatArray]] = []
    flap: list[tuple[FloatArray, FloatArray]] = []
    for i in range(count):
        own = nuisances[i]
        moved[i] = with_device_scaled(with_propeller(rows[i], float(own[3])), run.moves[0].device, float(own[4]))
        gear.append(knots(run, moved[i], own[5:], Device.GEAR))
        flap.append(knots(run, moved[i], own[5:], Device.FLAPS))
        starts[i] = motion_start_s(gear[i][0], flap[i][0])
    rising = climb_polynomial(run)
    climbs = np.tile(rising, (count, 1))
    climbs[:, 0] += nuisances[:, 2]
    out = np.empty((count, times_s.size))
    speed_histories(
        moved,
        times_s,
        starts,
        np.column_stack((true_entries_mps(run, rows, nuisances[:, 0]), nuisances[:, 1])),
        air.mass_kg * rows[:, v.MASS_FACTOR],
        float(density_kgm3(air.pressure_altitude_m, air.isa_deviation_k)),
        climbs,
        np.array([times for times, _ in gear]),
        np.array([positions for _, positions in gear]),
        np.array([times for times, _ in flap]),
        np.array([positions for _, positions in flap]),
        out,
    )
    return out


def with_propeller(row: FloatArray, deviation: float) -> FloatArray:
    """Return the row with its propeller slope moved by ``deviation`` standard deviations of the run-to-run scatter."""
    moved = row.copy()
    if row[v.PROPELLER_LAW] > 0.5:
        moved[v.EFFICIENCY_SLOPE] *= np.exp(PROPELLER_SCATTER * deviation)
    else:
        moved[v.EFFICIENCY_SLOPE] += 0.3 * PROPELLER_SCATTER * deviation
    return moved


def with_device_scaled(row: FloatArray, device: Device, log_factor: float) -> FloatArray:
    """Return the row with the drag area of a device multiplied by ``exp(log_factor)``, as in this run alone."""
    moved = row.copy()
    factor = np.exp(log_factor)
    if device is Device.GEAR:
        moved[v.F_GEAR] *= factor
    else:
        moved[v.F_FLAPS : v.F_FLAPS + v.MAX_SETTINGS] *= factor
        moved[v.FLAP_SLOPES : v.FLAP_SLOPES + v.MAX_SETTINGS] *= factor
        moved[v.FLAP_FLOORS : v.FLAP_FLOORS + v.MAX_SETTINGS] *= factor
    return moved
