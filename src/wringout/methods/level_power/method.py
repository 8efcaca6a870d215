"""Level speed-power points: steady level flight at stated shaft power, clean or with devices out.

At each speed the candidate airplane needs a certain power at the propeller disk; over the disk's efficiency that is the
shaft power the engine chart should have given. What the chart itself may be wrong by is common to the run.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.methods.level_power.by_hand import hand_results
from wringout.methods.level_power.run import KEY, level_airs, needed_disk_power_w, runs_from_recording
from wringout.methods.level_power.words import level_power_card, level_power_guard
from wringout.methods.power_words import PowerKind, power_nuisance
from wringout.methods.steady_run import UNHEEDED, SteadyMethod, SteadyRun
from wringout.methods.types import Card, FloatArray, GuardNotice, HandResult, Method, Nuisance
from wringout.recordings.types import Recording
from wringout.units import KNOT, STANDARD_GRAVITY

SETTING_SHARE = 0.015
"""Standard deviation of one power setting about the intended one, as a share of it (judged, no source)."""


class LevelPower(SteadyMethod):
    """The method object; see :class:`wringout.methods.types.Method`."""

    key = KEY
    title = "Level speed-power points"
    observed_unit = "hp"
    ignores = UNHEEDED | {v.ALTITUDE_LAW}

    def from_recording(
        self, key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs
    ) -> list[SteadyRun]:
        """Build the run from a table of points or a timed recording; raises BadInputError with one sentence."""
        return runs_from_recording(key, recording, setup, beliefs)

    def nuisances(self, run: SteadyRun, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        """Return the power factor: true over stated shaft power, common to the run."""
        return (power_nuisance(run.power, beliefs.base, float(np.mean(run.points.ias_mps))),)

    def observed(self, run: SteadyRun) -> FloatArray:
        """Return stated shaft powers, W; at full throttle those of the airplane believed before flight."""
        return run.points.shaft_w

    def predict(self, run: SteadyRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the shaft power that the candidate would have been stated to need, W.

        At full throttle a candidate with more rated power than was believed has its need scaled down by as much.
        """
        return self._powers(run, row, nuisance, beliefs, 0.0)

    def _powers(
        self, run: SteadyRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs, faster_mps: float
    ) -> FloatArray:
        airs = level_airs(run.points, beliefs, float(row[v.IAS_BIAS]) - faster_mps)
        power = needed_disk_power_w(run.points, airs, row) / (float(row[v.DISK_EFFICIENCY]) * float(nuisance[0]))
        if run.power.kind is PowerKind.FULL:
            power *= float(beliefs.prior_row()[v.RATED_POWER] / row[v.RATED_POWER])
        return power

    def reading_sd(self, run: SteadyRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the standard deviation of each power, W: its setting, a misread speed, and not quite level flight."""
        points, here = run.points, self.predict(run, row, nuisance, beliefs)
        per_speed = (self._powers(run, row, nuisance, beliefs, KNOT) - here) / KNOT
        climbing = points.mass_kg * STANDARD_GRAVITY * points.rate_sd_mps / float(row[v.DISK_EFFICIENCY])
        setting = SETTING_SHARE * points.shaft_w
        return np.sqrt((per_speed * points.ias_sd_mps) ** 2 + climbing**2 + setting**2)

    def by_hand(self, run: SteadyRun, beliefs: Beliefs) -> list[HandResult]:
        """Return the polar and standard speeds from PIW on VIW, and the disk efficiency if the drag is as believed."""
        sd = self.reading_sd(run, beliefs.prior_row(), np.ones(1), beliefs)
        return hand_results(run, self.nuisances(run, beliefs)[0], sd, beliefs)

    def simulate(self, run: SteadyRun, row: FloatArray, beliefs: Beliefs, rng: np.random.Generator) -> SteadyRun:
        """Return the points as the airplane would give them: the speeds flown, the powers stated for them misjudged."""
        chart = self.nuisances(run, beliefs)[0]
        nuisance = np.array([rng.normal(chart.mean, chart.sd)])
        power = self.predict(run, row, nuisance, beliefs)
        stated = power + rng.normal(0.0, 1.0, power.size) * self.reading_sd(run, row, nuisance, beliefs)
        return replace(run, points=replace(run.points, shaft_w=stated))

    def card(self, beliefs: Beliefs, words: dict[str, str]) -> Card:
        """Return the test card of level speed-power points."""
        return level_power_card(words)

    def guard(self, beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
        """Hold the planned speeds against limits and stall margin."""
        return level_power_guard(beliefs, words)


METHOD: Method = LevelPower()
