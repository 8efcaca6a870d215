"""Out-and-back pair: a device goes out at fixed power, settles, and goes in again with the power untouched.

The joint fit follows the whole speed history like that of a level deceleration, of which the pair is one with two
moves; the strength of the pair is that its two legs disagree in nothing but the device.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.limits import Exceedance
from wringout.airspeed import calibrated_from_true
from wringout.atmosphere import density_kgm3
from wringout.methods.level_deceleration.method import METHOD as SINGLE
from wringout.methods.level_deceleration.method import (
    level_airspeeds,
    with_device_scaled,
    with_heights,
    with_propeller,
)
from wringout.methods.level_deceleration.run import (
    climb_polynomial,
    indicated_speeds,
    knots,
    motion_start_s,
    true_entry_mps,
)
from wringout.methods.out_and_back.by_hand import hand_results
from wringout.methods.out_and_back.run import KEY, OutAndBackRun, runs_from_recording
from wringout.methods.out_and_back.words import pair_card, pair_guard
from wringout.methods.speed_history import climb_rate_at, position_at, speed_history
from wringout.methods.speed_readings import drawn_nuisances, simulated_readings
from wringout.methods.types import Card, FloatArray, GuardNotice, HandResult, Method, Nuisance
from wringout.recordings.types import Device, Recording
from wringout.units import STANDARD_GRAVITY


class OutAndBack:
    """The method object; see :class:`wringout.methods.types.Method`."""

    key = KEY
    title = "Out-and-back pair"
    observed_unit = "kt"
    ignores = SINGLE.ignores

    def from_recording(
        self, key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs
    ) -> list[OutAndBackRun]:
        """Build the pair from time, indicated airspeed and a mark for each of the two moves; raises BadInputError."""
        return runs_from_recording(key, recording, setup, beliefs)

    def exceedances(self, run: OutAndBackRun, beliefs: Beliefs) -> list[Exceedance]:
        """Return the limit speeds that readings went beyond, worst reading of each."""
        return SINGLE.exceedances(run, beliefs)

    def nuisances(self, run: OutAndBackRun, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        """Return those of a level deceleration with two moves."""
        return SINGLE.nuisances(run, beliefs)

    def observed(self, run: OutAndBackRun) -> FloatArray:
        """Return indicated airspeeds, m/s."""
        return run.ias_mps

    def predict(self, run: OutAndBackRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the indicated airspeeds the candidate would have shown, m/s."""
        return self.curve(run, row, nuisance, beliefs, run.time_s)

    def curve(
        self, run: OutAndBackRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs, times_s: FloatArray
    ) -> FloatArray:
        """Return indicated airspeed, m/s, at any rising times (s from the first reading) of the run."""
        if run.return_mass_kg == run.conditions.mass_kg:
            return SINGLE.curve(run, row, nuisance, beliefs, times_s)
        true, air = self.true_airspeed(run, row, nuisance, beliefs, times_s), run.conditions
        calibrated = calibrated_from_true(true, air.pressure_altitude_m, air.isa_deviation_k)
        indicated = indicated_speeds(run, calibrated, times_s, beliefs.instrument.position_error)
        return np.asarray(indicated + row[v.IAS_BIAS])

    def true_airspeed(
        self, run: OutAndBackRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs, times_s: FloatArray
    ) -> FloatArray:
        """Return true airspeed, m/s, at rising times, the second leg flown at its own mass.

        The second leg starts when the second move does, at the speed reached there and with the power of the first.
        """
        named = dict(zip((n.key for n in self.nuisances(run, beliefs)), nuisance.tolist(), strict=True))
        turned = run.moves[1].select_s + named["mark 2"]
        before = times_s[times_s < turned]
        first = level_airspeeds(run, row[np.newaxis], nuisance[np.newaxis], np.append(before, turned))[0]
        second = self._second_leg(run, row, named, nuisance[5:7], float(first[-1]), turned, times_s[times_s >= turned])
        level = np.concatenate([first[:-1], second])[np.newaxis]
        return np.asarray(with_heights(run, row[np.newaxis], nuisance[np.newaxis], times_s, level)[0])

    def _second_leg(
        self,
        run: OutAndBackRun,
        row: FloatArray,
        named: dict[str, float],
        marks: FloatArray,
        speed: float,
        turned: float,
        times_s: FloatArray,
    ) -> FloatArray:
        moved = with_device_scaled(with_propeller(row, named["propeller"]), run.moves[0].device, named["run to run"])
        gear_t, gear_x = knots(run, moved, marks, Device.GEAR)
        flap_t, flap_x = knots(run, moved, marks, Device.FLAPS)
        climb = climb_polynomial(run)
        climb[0] += named["climb"]
        density = float(density_kgm3(run.conditions.pressure_altitude_m, run.conditions.isa_deviation_k))
        factor, back = float(row[v.MASS_FACTOR]), run.return_mass_kg * float(row[v.MASS_FACTOR])

        def drag(at: float, mass: float, time: float) -> float:
            gear, flap = position_at(time, gear_t, gear_x), position_at(time, flap_t, flap_x)
            return float(forces.drag(moved, at, density, mass * STANDARD_GRAVITY, gear, flap))

        start, entry = motion_start_s(gear_t, flap_t), true_entry_mps(run, row, named["entry speed"])
        mass = run.conditions.mass_kg * factor
        rising = STANDARD_GRAVITY / entry * climb_rate_at(start, climb)
        needed = drag(entry, mass, start) + mass * (named["entry acceleration"] + rising)
        power = forces.reference_disk_power(moved, max(needed, 1.0), entry, density)
        thrust = float(forces.thrust(moved, power, speed, density))
        rising = STANDARD_GRAVITY / speed * climb_rate_at(turned, climb)
        acceleration = (thrust - drag(speed, back, turned)) / back - rising
        grid = np.concatenate(([turned], times_s))
        out = np.empty(grid.size)
        speed_history(
            moved, grid, speed, acceleration, back, density, climb, gear_t, gear_x, flap_t, flap_x, out
        )  # fmt: skip
        return out[1:]

    def reading_sd(self, run: OutAndBackRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return reading noise: the dial, its whole units, and the clock times the rate of change of speed."""
        return SINGLE.reading_sd(run, row, nuisance, beliefs)

    def residuals(self, run: OutAndBackRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return (observed - predicted) / sd, shape (n,)."""
        predicted = self.predict(run, row, nuisance, beliefs)
        return (run.ias_mps - predicted) / self.reading_sd(run, row, nuisance, beliefs)

    def by_hand(self, run: OutAndBackRun, beliefs: Beliefs) -> list[HandResult]:
        """Return the pair's drag area, then start slope, settled speeds and knots lost of the first leg alone."""
        return hand_results(run, beliefs)

    def simulate(
        self, run: OutAndBackRun, row: FloatArray, beliefs: Beliefs, rng: np.random.Generator
    ) -> OutAndBackRun:
        """Return the pair as the airplane would produce it: nuisances drawn, clock and dial noise, whole units."""
        drawn = drawn_nuisances(self.nuisances(run, beliefs), rng)
        instrument, unit = beliefs.instrument, run.whole_units_mps
        read = simulated_readings(
            instrument, unit, run.time_s, rng, lambda times_s: self.curve(run, row, drawn, beliefs, times_s)
        )
        return replace(run, ias_mps=read)

    def card(self, beliefs: Beliefs, words: dict[str, str]) -> Card:
        """Return the test card of an out-and-back pair."""
        return pair_card(words)

    def guard(self, beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
        """Hold the planned entry speed against the limits, both ways."""
        return pair_guard(beliefs, words)


METHOD: Method = OutAndBack()
