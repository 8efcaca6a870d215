"""Slow-downs and descents: the same drag, the everyday questions.

How long, how far and how much height does it take to slow from cruise to approach speed, or to lose height, with power
off, gear out or part of the flaps? The recorded run is held against what the airplane would do (``predict``: the whole
speed history, height changes as energy), and by hand gives the figures in a table beside the ones believed.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.limits import Exceedance
from wringout.airspeed import calibrated_from_true, indicated_from_calibrated
from wringout.methods.level_deceleration.method import METHOD as DECELERATION
from wringout.methods.level_deceleration.run import SETTLING_SD_MPS2, climb_sd_mps, configurations
from wringout.methods.power_words import PowerKind, power_nuisance
from wringout.methods.slow_down.by_hand import hand_results
from wringout.methods.slow_down.motion import followed_climb, true_airspeed
from wringout.methods.slow_down.run import KEY, SlowDownRun, runs_from_recording, true_airspeeds
from wringout.methods.slow_down.words import slow_down_card, slow_down_guard
from wringout.methods.speed_readings import STEP_S, drawn_nuisances, simulated_readings, speed_reading_sd
from wringout.methods.types import Card, FloatArray, GuardNotice, HandResult, Method, Nuisance
from wringout.recordings.types import Recording
from wringout.units import DEGREE, KNOT


class SlowDown:
    """The method object; see :class:`wringout.methods.types.Method`."""

    key = KEY
    title = "Slow-downs and descents"
    observed_unit = "kt"
    ignores = frozenset({v.LIFT_SLOPE, v.STALL_RATE_SLOPE} | set(range(v.CL_MAXES, v.CL_MAXES + v.MAX_SETTINGS)))

    def from_recording(
        self, key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs
    ) -> list[SlowDownRun]:
        """Build the run from time, indicated airspeed and power; raises BadInputError with one sentence."""
        return runs_from_recording(key, recording, setup, beliefs)

    def exceedances(self, run: SlowDownRun, beliefs: Beliefs) -> list[Exceedance]:
        """Return the limit speeds that readings went beyond, worst reading of each."""
        return DECELERATION.exceedances(run, beliefs)

    def nuisances(self, run: SlowDownRun, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        """Entry speed, power or propeller drag of the run, the unseen part of the climb, and the clock of each mark."""
        entry = float(true_airspeeds(run, beliefs, at_own_height=False)[0])
        power = (
            Nuisance("entry acceleration", 0.0, SETTLING_SD_MPS2, "settling at entry")
            if run.power.kind is PowerKind.HELD
            else power_nuisance(run.power, beliefs.base, float(run.ias_mps[0]))
        )
        clock_sd_s = math.hypot(beliefs.instrument.clock_sd_s, run.clock_sd_s)
        marks = (Nuisance(f"mark {i + 1}", 0.0, clock_sd_s, "mark time") for i in range(len(run.moves)))
        return (
            Nuisance("entry speed", entry, 3.0 * KNOT, "entry speed"),
            power,
            Nuisance("climb", 0.0, climb_sd_mps(run), "altitude drift"),
            Nuisance("propeller", 0.0, 1.0, "propeller at this power"),
            *marks,
        )

    def observed(self, run: SlowDownRun) -> FloatArray:
        """Return indicated airspeeds, m/s."""
        return run.ias_mps

    def predict(self, run: SlowDownRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the indicated airspeeds the candidate would have shown while the altitude changed as it did, m/s."""
        return self._indicated(run, row, nuisance, beliefs, run.time_s)

    def _indicated(
        self, run: SlowDownRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs, times_s: FloatArray
    ) -> FloatArray:
        named = dict(zip((n.key for n in self.nuisances(run, beliefs)), nuisance.tolist(), strict=True))
        climb = followed_climb(run)
        climb[0] += named["climb"]
        true, air = true_airspeed(run, row, named, nuisance[4:], times_s, climb), run.conditions
        calibrated = calibrated_from_true(true, air.pressure_altitude_m, air.isa_deviation_k)
        out = np.empty_like(calibrated)
        for gear, flap, where in configurations(run, times_s):
            if where.any():
                table = beliefs.instrument.position_error
                out[where] = indicated_from_calibrated(calibrated[where], table, flap / DEGREE, gear)
        return np.asarray(out + row[v.IAS_BIAS])

    def reading_sd(self, run: SlowDownRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return reading noise: the dial, its whole units, and the clock times the rate of change of speed."""
        ahead = self._indicated(run, row, nuisance, beliefs, run.time_s + STEP_S)
        slope = (ahead - self.predict(run, row, nuisance, beliefs)) / STEP_S
        return speed_reading_sd(beliefs.instrument, run.whole_units_mps, slope)

    def residuals(self, run: SlowDownRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return (observed - predicted) / sd, shape (n,)."""
        predicted = self.predict(run, row, nuisance, beliefs)
        return (run.ias_mps - predicted) / self.reading_sd(run, row, nuisance, beliefs)

    def by_hand(self, run: SlowDownRun, beliefs: Beliefs) -> list[HandResult]:
        """Return time, distance and height to the target speed, or the rate of descent, beside what was believed."""
        return hand_results(run, self.nuisances(run, beliefs), beliefs)

    def simulate(self, run: SlowDownRun, row: FloatArray, beliefs: Beliefs, rng: np.random.Generator) -> SlowDownRun:
        """Return the run as the airplane would produce it: nuisances drawn, clock and dial noise, whole units."""
        drawn = drawn_nuisances(self.nuisances(run, beliefs), rng)
        instrument, unit = beliefs.instrument, run.whole_units_mps
        read = simulated_readings(
            instrument, unit, run.time_s, rng, lambda times_s: self._indicated(run, row, drawn, beliefs, times_s)
        )
        return replace(run, ias_mps=read)

    def card(self, beliefs: Beliefs, words: dict[str, str]) -> Card:
        """Return the test card of a slow-down or descent."""
        return slow_down_card(words)

    def guard(self, beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
        """Hold the planned speeds and height against limits, stall margin and floor."""
        return slow_down_guard(beliefs, words)


METHOD: Method = SlowDown()
