"""Go-around pairs: two techniques flown one after the other at altitude, and the difference tested exactly.

These runs stay out of the joint fit on purpose: they check what the fitted airplane says of the techniques, so they
must not have shaped it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.limits import Exceedance
from wringout.methods.go_around_pairs.build import runs_from_recording
from wringout.methods.go_around_pairs.by_hand import hand_results
from wringout.methods.go_around_pairs.entry import corrections, energy_model
from wringout.methods.go_around_pairs.run import KEY, GoAroundRun
from wringout.methods.go_around_pairs.words import pairs_card, pairs_guard
from wringout.methods.types import Card, FloatArray, GuardNotice, HandResult, Method, Nuisance
from wringout.recordings.types import Recording
from wringout.units import FOOT, FOOT_PER_MINUTE, KNOT

HEIGHT_SD_M = 20.0 * FOOT
TIME_SD_S = 0.7
ENTRY_SPEED_SD_MPS = 2.0 * KNOT
ENTRY_DESCENT_SD_MPS = 60.0 * FOOT_PER_MINUTE
"""How one go-around scatters about the next in simulation: scores and entries (judged, no source)."""


class GoAroundPairs:
    """The method object; see :class:`wringout.methods.types.Method`."""

    key = KEY
    title = "Go-around pairs"
    observed_unit = "ft"
    ignores = frozenset(range(v.SIZE))

    def from_recording(
        self, key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs
    ) -> list[GoAroundRun]:
        """Build the run from the columns pair, technique and the scores; raises BadInputError with one sentence."""
        return runs_from_recording(key, recording, setup, beliefs)

    def exceedances(self, run: GoAroundRun, beliefs: Beliefs) -> list[Exceedance]:
        """Return the limit speeds that the fastest entry was beyond."""
        if not np.isfinite(run.entry_ias_mps).any():
            return []
        limits = beliefs.limits
        setting = min(beliefs.settings, key=lambda s: abs(s.angle_rad - run.entry_flap_rad))
        named = [("VNE", limits.never_exceed_mps), (f"VFE ({setting.name})", limits.flap_limit(setting.name))]
        if run.entry_gear > 0.5 and beliefs.retractable:
            named.append(("VLE", limits.gear_extended_mps))
        at = int(np.nanargmax(run.entry_ias_mps))
        seen, row = float(run.entry_ias_mps[at]), int(run.flown_rows[at])
        return [
            Exceedance(label, limit, seen, row)
            for label, limit in named
            if limit is not None and seen > limit + 0.25 * KNOT
        ]

    def nuisances(self, run: GoAroundRun, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        """Return nothing: nothing of these runs is fitted."""
        return ()

    def observed(self, run: GoAroundRun) -> FloatArray:
        """Return nothing, shape (0,): these runs check the fitted airplane and must not shape it."""
        return np.zeros(0)

    def predict(self, run: GoAroundRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return nothing, shape (0,)."""
        return np.zeros(0)

    def reading_sd(self, run: GoAroundRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return nothing, shape (0,)."""
        return np.zeros(0)

    def residuals(self, run: GoAroundRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return nothing, shape (0,)."""
        return np.zeros(0)

    def by_hand(self, run: GoAroundRun, beliefs: Beliefs) -> list[HandResult]:
        """Return each score's difference: at equal entry, as flown, and with the pairing ignored."""
        return hand_results(run, beliefs)

    def simulate(self, run: GoAroundRun, row: FloatArray, beliefs: Beliefs, rng: np.random.Generator) -> GoAroundRun:
        """Return the pairs flown again: each technique at its mean score, entries and scores scattered anew.

        What the drawn entries do follows the energy arguments with the airplane ``row``; missing readings stay missing.
        """
        n = run.pair.size
        known = np.isfinite(run.entry_speed_mps) & np.isfinite(run.entry_descent_mps)
        speeds, descents = run.entry_speed_mps.copy(), run.entry_descent_mps.copy()
        shift = np.zeros(run.scores.shape)
        if known.any():
            usual = replace(run, entry_speed_mps=np.full(n, speeds[known].mean()))
            usual = replace(usual, entry_descent_mps=np.full(n, descents[known].mean()))
            speeds[known] = usual.entry_speed_mps[known] + rng.normal(0.0, ENTRY_SPEED_SD_MPS, int(known.sum()))
            descents[known] = usual.entry_descent_mps[known] + rng.normal(0.0, ENTRY_DESCENT_SD_MPS, int(known.sum()))
            moved = replace(run, entry_speed_mps=speeds, entry_descent_mps=np.abs(descents))
            shift = np.nan_to_num(corrections(moved, energy_model(usual, row)))
        scores = np.empty_like(run.scores)
        for j, score in enumerate(run.score_list):
            sd = HEIGHT_SD_M if score.dimension == "length" else TIME_SD_S
            means = [float(np.nanmean(run.scores[run.technique == which, j])) for which in (0, 1)]
            drawn = np.array(means)[run.technique] + shift[:, j] + rng.normal(0.0, sd, n)
            scores[:, j] = np.where(np.isfinite(run.scores[:, j]), drawn, np.nan)
        ias = run.entry_ias_mps + (speeds - run.entry_speed_mps)
        return replace(
            run, scores=scores, entry_speed_mps=speeds, entry_ias_mps=ias, entry_descent_mps=np.abs(descents)
        )

    def card(self, beliefs: Beliefs, words: dict[str, str]) -> Card:
        """Return the test card of go-around pairs."""
        return pairs_card(words)

    def guard(self, beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
        """Hold the planned hard deck, call and entry speed against floor, limits and stall speed."""
        return pairs_guard(beliefs, words)


METHOD: Method = GoAroundPairs()
