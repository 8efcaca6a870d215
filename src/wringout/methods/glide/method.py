"""Glides: steady descents at several speeds, idle or at zero thrust, wings level.

Without thrust the sink shows the drag: ``D = -W sin(gamma) (1 + (V/g) dV/dh)``. At idle the propeller windmills and
drags; that is a number of its own with a wide prior (``windmilling drag``), since glides alone cannot tell it from the
airplane's own parasite drag. Sink is brought to geometric height by the air temperature, and the acceleration at
constant indicated airspeed is part of the equation.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.methods.glide.by_hand import hand_results
from wringout.methods.glide.run import KEY, glide_airs, runs_from_recording
from wringout.methods.glide.words import glide_card, glide_guard
from wringout.methods.power_words import power_nuisance
from wringout.methods.steady_climb import steady_rate_mps, with_windmilling
from wringout.methods.steady_run import UNHEEDED, SteadyMethod, SteadyRun
from wringout.methods.types import Card, FloatArray, GuardNotice, HandResult, Method, Nuisance
from wringout.recordings.types import Recording
from wringout.units import KNOT


class Glide(SteadyMethod):
    """The method object; see :class:`wringout.methods.types.Method`."""

    key = KEY
    title = "Glides"
    observed_unit = "ft/min"
    ignores = UNHEEDED | {v.DISK_EFFICIENCY, v.EFFICIENCY_SLOPE, v.THRUST_BEND, v.RATED_POWER, v.ALTITUDE_LAW}

    def from_recording(
        self, key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs
    ) -> list[SteadyRun]:
        """Build the run from a table of glides or from timed ones; raises BadInputError with one sentence."""
        return runs_from_recording(key, recording, setup, beliefs)

    def nuisances(self, run: SteadyRun, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        """Return the drag area of the propeller, m2, common to the run."""
        return (power_nuisance(run.power, beliefs.base, float(np.mean(run.points.ias_mps))),)

    def observed(self, run: SteadyRun) -> FloatArray:
        """Return vertical speeds as read, m/s, negative down."""
        return run.points.rate_mps

    def predict(self, run: SteadyRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the vertical speeds of the candidate at the speeds flown, m/s."""
        return self._rates(run, row, nuisance, beliefs, 0.0)

    def _rates(
        self, run: SteadyRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs, faster_mps: float
    ) -> FloatArray:
        points, candidate = run.points, with_windmilling(row, float(nuisance[0]))
        airs = glide_airs(points, beliefs, float(row[v.IAS_BIAS]) - faster_mps)
        out = np.empty(len(points))
        for i, air in enumerate(airs):
            mass = float(points.mass_kg[i] * row[v.MASS_FACTOR])
            rate = steady_rate_mps(candidate, air, mass, float(points.gear[i]), float(points.flap_rad[i]), 0.0)
            out[i] = rate / (1.0 if points.geometric else air.temperature_ratio)
        return out

    def reading_sd(self, run: SteadyRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the standard deviation of each rate, m/s: the rate itself, and what a misread speed makes of it."""
        ahead = self._rates(run, row, nuisance, beliefs, KNOT)
        per_speed = (ahead - self.predict(run, row, nuisance, beliefs)) / KNOT
        return np.asarray(np.hypot(run.points.rate_sd_mps, per_speed * run.points.ias_sd_mps))

    def by_hand(self, run: SteadyRun, beliefs: Beliefs) -> list[HandResult]:
        """Return the polar of each configuration, best glide and minimum sink, from a straight line of CD on CL^2."""
        drag = self.nuisances(run, beliefs)[0]
        nuisance = np.array([drag.mean])
        sd = self.reading_sd(run, beliefs.prior_row(), nuisance, beliefs)
        return hand_results(run, drag, sd, lambda row: self.predict(run, row, nuisance, beliefs), beliefs)

    def simulate(self, run: SteadyRun, row: FloatArray, beliefs: Beliefs, rng: np.random.Generator) -> SteadyRun:
        """Return the glides as the airplane would give them: propeller drag drawn, speeds and rates misread."""
        drag = self.nuisances(run, beliefs)[0]
        nuisance = np.array([rng.normal(drag.mean, drag.sd)])
        rate = self.predict(run, row, nuisance, beliefs)
        read = rate + rng.normal(0.0, 1.0, rate.size) * self.reading_sd(run, row, nuisance, beliefs)
        return replace(run, points=replace(run.points, rate_mps=np.minimum(read, -1e-6)))

    def card(self, beliefs: Beliefs, words: dict[str, str]) -> Card:
        """Return the test card of a series of glides."""
        return glide_card(words)

    def guard(self, beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
        """Hold the planned speeds and heights against limits, stall margin and floor."""
        return glide_guard(beliefs, words)


METHOD: Method = Glide()
