"""Saw-tooth and check climbs: steady climbs at full or stated power, at several speeds or through several heights.

The excess of thrust over drag lifts the airplane and speeds it up as the air thins (``steady_climb``). Rates are
brought to geometric height by the temperature. A wind that grows with height feigns climb on one heading and takes it
away on the reciprocal; its growth is a number of the run.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.methods.climb.by_hand import hand_results
from wringout.methods.climb.run import KEY, climb_airs, runs_from_recording
from wringout.methods.climb.words import climb_card, climb_guard
from wringout.methods.level_deceleration.method import with_propeller
from wringout.methods.power_words import disk_power_w, power_nuisance
from wringout.methods.steady_climb import steady_rate_mps
from wringout.methods.steady_run import SteadyMethod, SteadyRun
from wringout.methods.types import Card, FloatArray, GuardNotice, HandResult, Method, Nuisance
from wringout.recordings.types import Recording
from wringout.units import KNOT

WIND_GRADIENT_SD_PER_S = 0.004
"""Standard deviation of the wind's growth with height in smooth air, each way [1/s], 2.4 kt in 1,000 ft (judged)."""


class Climb(SteadyMethod):
    """The method object; see :class:`wringout.methods.types.Method`."""

    key = KEY
    title = "Climbs"
    observed_unit = "ft/min"

    def from_recording(
        self, key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs
    ) -> list[SteadyRun]:
        """Build the run from a table of climbs or a timed recording; raises BadInputError with one sentence."""
        return runs_from_recording(key, recording, setup, beliefs)

    def nuisances(self, run: SteadyRun, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        """Return the power factor, the propeller at this power, and the growth of the wind with height.

        With headings the wind has two parts, towards north and east of the headings' own north; without them one, from
        behind the airplane.
        """
        ways = ("north", "east") if run.has_headings else ("behind",)
        return (
            power_nuisance(run.power, beliefs.base, float(np.mean(run.points.ias_mps))),
            Nuisance("propeller", 0.0, 1.0, "propeller at this power"),
            *(Nuisance(f"wind gradient {way}", 0.0, WIND_GRADIENT_SD_PER_S, "wind gradient") for way in ways),
        )

    def observed(self, run: SteadyRun) -> FloatArray:
        """Return rates of climb as read, m/s."""
        return run.points.rate_mps

    def predict(self, run: SteadyRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the rates of climb of the candidate at the speeds flown, m/s."""
        return self._rates(run, row, nuisance, beliefs, 0.0)

    def _rates(
        self, run: SteadyRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs, faster_mps: float
    ) -> FloatArray:
        points, moved = run.points, with_propeller(row, float(nuisance[1]))
        tailwind: FloatArray | float = float(nuisance[2])
        if run.has_headings:
            tailwind = nuisance[2] * np.cos(points.heading_rad) + nuisance[3] * np.sin(points.heading_rad)
        airs = climb_airs(points, beliefs, float(row[v.IAS_BIAS]) - faster_mps, tailwind)
        out = np.empty(len(points))
        for i, air in enumerate(airs):
            power = disk_power_w(row, run.power.kind, float(points.shaft_w[i]), air.density_kgm3, float(nuisance[0]))
            thrust = float(forces.thrust(moved, power, air.speed_mps, air.density_kgm3))
            mass = float(points.mass_kg[i] * row[v.MASS_FACTOR])
            rate = steady_rate_mps(moved, air, mass, float(points.gear[i]), float(points.flap_rad[i]), thrust)
            out[i] = rate / (1.0 if points.geometric else air.temperature_ratio)
        return out

    def reading_sd(self, run: SteadyRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the standard deviation of each rate, m/s: the rate itself, and what a misread speed makes of it."""
        ahead = self._rates(run, row, nuisance, beliefs, KNOT)
        per_speed = (ahead - self.predict(run, row, nuisance, beliefs)) / KNOT
        return np.asarray(np.hypot(run.points.rate_sd_mps, per_speed * run.points.ias_sd_mps))

    def by_hand(self, run: SteadyRun, beliefs: Beliefs) -> list[HandResult]:
        """Return best-rate and best-angle speeds by configuration, the wind's growth, and the rate against belief."""
        expected = self.nuisances(run, beliefs)
        means = np.array([n.mean for n in expected])
        sd = self.reading_sd(run, beliefs.prior_row(), means, beliefs)

        def predict(row: FloatArray, changed: dict[str, float]) -> FloatArray:
            nuisance = np.array([changed.get(n.key, n.mean) for n in expected])
            return self.predict(run, row, nuisance, beliefs)

        return hand_results(run, expected, sd, predict, beliefs)

    def simulate(self, run: SteadyRun, row: FloatArray, beliefs: Beliefs, rng: np.random.Generator) -> SteadyRun:
        """Return the climbs as the airplane would give them: nuisances drawn, speeds and rates misread."""
        drawn = np.array([rng.normal(n.mean, n.sd) for n in self.nuisances(run, beliefs)])
        rate = self.predict(run, row, drawn, beliefs)
        read = rate + rng.normal(0.0, 1.0, rate.size) * self.reading_sd(run, row, drawn, beliefs)
        return replace(run, points=replace(run.points, rate_mps=read))

    def card(self, beliefs: Beliefs, words: dict[str, str]) -> Card:
        """Return the test card of saw-tooth or check climbs."""
        return climb_card(words)

    def guard(self, beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
        """Hold the planned speeds and height against limits, stall margin and floor."""
        return climb_guard(beliefs, words)


METHOD: Method = Climb()
