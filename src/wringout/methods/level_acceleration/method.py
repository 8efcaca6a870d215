"""Level accelerations: full or stated power, wings level, altitude held, the airspeed read as it rises.

The excess of thrust over drag speeds the airplane up; times speed over weight it is the specific excess power, the rate
at which the airplane could climb. The joint fit follows the whole speed history through the equation of motion.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.limits import Exceedance
from wringout.airspeed import (
    calibrated_from_indicated,
    calibrated_from_true,
    indicated_from_calibrated,
    true_from_calibrated,
)
from wringout.atmosphere import density_kgm3
from wringout.methods.level_acceleration.by_hand import hand_results
from wringout.methods.level_acceleration.fitted import fitted_peak
from wringout.methods.level_acceleration.run import KEY, AccelerationRun, runs_from_recording
from wringout.methods.level_acceleration.words import acceleration_card, acceleration_guard
from wringout.methods.level_deceleration.method import METHOD as DECELERATION
from wringout.methods.level_deceleration.method import with_propeller
from wringout.methods.level_deceleration.run import climb_polynomial, climb_sd_mps, knots
from wringout.methods.power_words import disk_power_w, power_nuisance
from wringout.methods.speed_history import climb_rate_at, speed_history
from wringout.methods.speed_readings import STEP_S, drawn_nuisances, simulated_readings, speed_reading_sd
from wringout.methods.types import Card, FloatArray, GuardNotice, HandResult, Method, Nuisance
from wringout.recordings.types import Device, Recording
from wringout.units import DEGREE, KNOT, STANDARD_GRAVITY


class LevelAcceleration:
    """The method object; see :class:`wringout.methods.types.Method`."""

    key = KEY
    title = "Level acceleration"
    observed_unit = "kt"
    ignores = frozenset(
        {
            v.GEAR_DOWN_TIME,
            v.GEAR_UP_TIME,
            v.FLAP_DOWN_TIME,
            v.FLAP_UP_TIME,
            v.LIFT_SLOPE,
            v.STALL_RATE_SLOPE,
        }
        | set(range(v.CL_MAXES, v.CL_MAXES + v.MAX_SETTINGS))
    )

    def from_recording(
        self, key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs
    ) -> list[AccelerationRun]:
        """Build the run from time and indicated airspeed; raises BadInputError with one sentence."""
        return runs_from_recording(key, recording, setup, beliefs)

    def exceedances(self, run: AccelerationRun, beliefs: Beliefs) -> list[Exceedance]:
        """Return the limit speeds that readings went beyond, worst reading of each."""
        return DECELERATION.exceedances(run, beliefs)

    def nuisances(self, run: AccelerationRun, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        """Entry speed, the power of this run, the unseen part of the climb, and the propeller at this power.

        The entry speed is true airspeed as read, the indicator's bias left in; a candidate takes its own bias off, or
        the readings would speak against any bias once for each run.
        """
        entry = float(self.true_of(run, run.ias_mps[:1], beliefs)[0])
        return (
            Nuisance("entry speed", entry, 3.0 * KNOT, "entry speed"),
            power_nuisance(run.power, beliefs.base, float(run.ias_mps[0])),
            Nuisance("climb", 0.0, climb_sd_mps(run), "altitude drift"),
            Nuisance("propeller", 0.0, 1.0, "propeller at this power"),
        )

    def observed(self, run: AccelerationRun) -> FloatArray:
        """Return indicated airspeeds, m/s."""
        return run.ias_mps

    def predict(self, run: AccelerationRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the indicated airspeeds the candidate would have shown, m/s."""
        return self._indicated(run, row, nuisance, beliefs, run.time_s)

    def _indicated(
        self, run: AccelerationRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs, times_s: FloatArray
    ) -> FloatArray:
        air = run.conditions
        true = self._true_airspeed(run, row, nuisance, times_s)
        calibrated = calibrated_from_true(true, air.pressure_altitude_m, air.isa_deviation_k)
        table, flap = beliefs.instrument.position_error, run.entry_flap_rad / DEGREE
        return np.asarray(indicated_from_calibrated(calibrated, table, flap, run.entry_gear) + row[v.IAS_BIAS])

    def _true_airspeed(
        self, run: AccelerationRun, row: FloatArray, nuisance: FloatArray, times_s: FloatArray
    ) -> FloatArray:
        air = run.conditions
        density = float(density_kgm3(air.pressure_altitude_m, air.isa_deviation_k))
        per_ias = float(nuisance[0]) / float(run.ias_mps[0])
        entry = max(float(nuisance[0]) - per_ias * float(row[v.IAS_BIAS]), 20.0)
        mass = air.mass_kg * float(row[v.MASS_FACTOR])
        power = disk_power_w(row, run.power.kind, float(run.power.shaft_w[0]), density, float(nuisance[1]))
        moved = with_propeller(row, float(nuisance[3]))
        climb = climb_polynomial(run)
        climb[0] += nuisance[2]
        thrust = forces.thrust(moved, power, entry, density)
        drag = forces.drag(moved, entry, density, mass * STANDARD_GRAVITY, run.entry_gear, run.entry_flap_rad)
        start = min(0.0, float(times_s[0]))
        rising = STANDARD_GRAVITY / entry * climb_rate_at(start, climb)
        acceleration = float(thrust - drag) / mass - rising
        gear_t, gear_x = knots(run, moved, np.zeros(0), Device.GEAR)
        flap_t, flap_x = knots(run, moved, np.zeros(0), Device.FLAPS)
        grid = np.concatenate(([start], times_s))
        out = np.empty(grid.size)
        speed_history(
            moved, grid, entry, acceleration, mass, density, climb, gear_t, gear_x, flap_t, flap_x, out
        )  # fmt: skip
        return out[1:]

    def true_of(self, run: AccelerationRun, ias_mps: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return true airspeeds, m/s, of indicated ones in the run's configuration, the indicator's bias left in."""
        table, flap, air = beliefs.instrument.position_error, run.entry_flap_rad / DEGREE, run.conditions
        calibrated = calibrated_from_indicated(ias_mps, table, flap, run.entry_gear)
        return true_from_calibrated(calibrated, air.pressure_altitude_m, air.isa_deviation_k)

    def reading_sd(self, run: AccelerationRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return reading noise: the dial, its whole units, and the clock times the rate of change of speed."""
        ahead = self._indicated(run, row, nuisance, beliefs, run.time_s + STEP_S)
        slope = (ahead - self.predict(run, row, nuisance, beliefs)) / STEP_S
        return speed_reading_sd(beliefs.instrument, run.whole_units_mps, slope)

    def residuals(self, run: AccelerationRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return (observed - predicted) / sd, shape (n,)."""
        predicted = self.predict(run, row, nuisance, beliefs)
        return (run.ias_mps - predicted) / self.reading_sd(run, row, nuisance, beliefs)

    def by_hand(self, run: AccelerationRun, beliefs: Beliefs) -> list[HandResult]:
        """Return specific excess power along the speeds flown and the speed where it peaks."""
        return hand_results(run, self.true_of(run, run.ias_mps, beliefs), self.nuisances(run, beliefs)[1], beliefs)

    def from_fit(
        self, run: AccelerationRun, rows: FloatArray, nuisances: FloatArray, by_hand: Sequence[HandResult]
    ) -> list[HandResult]:
        """Return the speed where the fitted airplane's excess power peaks."""
        return fitted_peak(run, rows, nuisances, by_hand)

    def simulate(
        self, run: AccelerationRun, row: FloatArray, beliefs: Beliefs, rng: np.random.Generator
    ) -> AccelerationRun:
        """Return the run as the airplane would produce it: nuisances drawn, clock and dial noise, whole units."""
        drawn = drawn_nuisances(self.nuisances(run, beliefs), rng)
        instrument, unit = beliefs.instrument, run.whole_units_mps
        read = simulated_readings(
            instrument, unit, run.time_s, rng, lambda times_s: self._indicated(run, row, drawn, beliefs, times_s)
        )
        return replace(run, ias_mps=read)

    def card(self, beliefs: Beliefs, words: dict[str, str]) -> Card:
        """Return the test card of a level acceleration."""
        return acceleration_card(words)

    def guard(self, beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
        """Hold the planned speeds and height against limits, stall margin and floor."""
        return acceleration_guard(beliefs, words)


METHOD: Method = LevelAcceleration()
