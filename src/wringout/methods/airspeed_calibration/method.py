"""Airspeed calibration: legs of ground speed and track, or a logged turn, at one indicated airspeed.

In the joint fit a point speaks of the indicator's bias (indicated = calibrated + bias): the candidate's true airspeed
and a wind of the run's own give the ground speed on each track.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.limits import Exceedance
from wringout.airspeed import calibrated_from_indicated, true_from_calibrated
from wringout.methods.airspeed_calibration.build import runs_from_recording
from wringout.methods.airspeed_calibration.by_hand import hand_results
from wringout.methods.airspeed_calibration.circle import ground_speed_on_track
from wringout.methods.airspeed_calibration.run import DRIFT_SD_MPS, KEY, CalibrationRun, when_of
from wringout.methods.airspeed_calibration.words import calibration_card, calibration_guard
from wringout.methods.types import Card, FloatArray, GuardNotice, HandResult, Method, Nuisance
from wringout.recordings.types import Recording
from wringout.units import DEGREE, KNOT

WIND_SD_MPS = 12.0
"""Standard deviation of each component of the wind before it is measured [m/s] (judged, no source)."""
TABLE_SD_MPS = 0.5 * KNOT
"""How far a position-error table may be off at one speed, beside the bias common to all [m/s] (judged, no source)."""


class AirspeedCalibration:
    """The method object; see :class:`wringout.methods.types.Method`."""

    key = KEY
    title = "Airspeed calibration"
    observed_unit = "kt"
    ignores = frozenset(range(v.SIZE)) - {v.IAS_BIAS}

    def from_recording(
        self, key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs
    ) -> list[CalibrationRun]:
        """Build a run for each indicated airspeed and configuration; raises BadInputError with one sentence."""
        return runs_from_recording(key, recording, setup, beliefs)

    def exceedances(self, run: CalibrationRun, beliefs: Beliefs) -> list[Exceedance]:
        """Return the limit speeds that the fastest leg went beyond."""
        limits = beliefs.limits
        setting = min(beliefs.settings, key=lambda s: abs(s.angle_rad - run.flap_rad))
        named = [("VNE", limits.never_exceed_mps), (f"VFE ({setting.name})", limits.flap_limit(setting.name))]
        if run.gear > 0.5 and beliefs.retractable:
            named.append(("VLE", limits.gear_extended_mps))
        at = int(np.argmax(run.ias_mps))
        seen, row = float(run.ias_mps[at]), int(run.rows[at])
        return [
            Exceedance(label, limit, seen, row)
            for label, limit in named
            if limit is not None and seen > limit + 0.25 * KNOT
        ]

    def nuisances(self, run: CalibrationRun, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        """Return the wind (velocity of the air, east and north), what the position-error table is off by here, and,
        for a logged run, the change of the wind through it.
        """
        steady = (
            Nuisance("wind east", 0.0, WIND_SD_MPS, "wind"),
            Nuisance("wind north", 0.0, WIND_SD_MPS, "wind"),
            Nuisance("position error left", 0.0, TABLE_SD_MPS, "position error"),
        )
        if not run.logged:
            return steady
        return (
            *steady,
            Nuisance("wind drift east", 0.0, DRIFT_SD_MPS, "wind"),
            Nuisance("wind drift north", 0.0, DRIFT_SD_MPS, "wind"),
        )

    def observed(self, run: CalibrationRun) -> FloatArray:
        """Return ground speeds, m/s."""
        return run.ground_speed_mps

    def predict(self, run: CalibrationRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the ground speed of the candidate on each track, m/s."""
        true = self._true_airspeed(run, row, nuisance, beliefs)
        return ground_speed_on_track(true, run.track_rad, *_wind(run, nuisance))

    @staticmethod
    def _true_airspeed(run: CalibrationRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        table, indicated = beliefs.instrument.position_error, run.ias_mps - float(row[v.IAS_BIAS])
        calibrated = calibrated_from_indicated(indicated, table, run.flap_rad / DEGREE, run.gear) + float(nuisance[2])
        return true_from_calibrated(calibrated, run.pressure_altitude_m, run.isa_deviation_k)

    def reading_sd(self, run: CalibrationRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the scatter of each ground speed, m/s, from its reading, the track and the airspeed held."""
        true = self._true_airspeed(run, row, nuisance, beliefs)
        wind = _wind(run, nuisance)
        here = ground_speed_on_track(true, run.track_rad, *wind)
        faster = ground_speed_on_track(true + 0.1, run.track_rad, *wind) - here
        turned = ground_speed_on_track(true, run.track_rad + 0.01, *wind) - here
        track_sd = np.hypot(run.track_sd_rad, run.track_step_rad / np.sqrt(12.0))
        variance = run.ground_speed_sd_mps**2 + run.ground_speed_step_mps**2 / 12.0
        return np.asarray(
            np.sqrt(variance + (faster / 0.1 * run.airspeed_sd_mps) ** 2 + (turned / 0.01 * track_sd) ** 2)
        )

    def residuals(self, run: CalibrationRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return (observed - predicted) / sd, shape (n,)."""
        predicted = self.predict(run, row, nuisance, beliefs)
        return (run.ground_speed_mps - predicted) / self.reading_sd(run, row, nuisance, beliefs)

    def by_hand(self, run: CalibrationRun, beliefs: Beliefs) -> list[HandResult]:
        """Return position correction, true airspeed, wind, and the average people quote."""
        return hand_results(run, beliefs)

    def simulate(
        self, run: CalibrationRun, row: FloatArray, beliefs: Beliefs, rng: np.random.Generator
    ) -> CalibrationRun:
        """Return the legs as the airplane would show them: wind and table error drawn, legs and readings noisy."""
        drawn = np.array([rng.normal(n.mean, n.sd) for n in self.nuisances(run, beliefs)])
        n = run.ias_mps.size
        true = self._true_airspeed(run, row, drawn, beliefs) + rng.normal(0.0, run.airspeed_sd_mps, n)
        ground = ground_speed_on_track(true, run.track_rad, *_wind(run, drawn))
        ground = _stepped(ground + rng.normal(0.0, run.ground_speed_sd_mps, n), run.ground_speed_step_mps)
        track = _stepped(run.track_rad + rng.normal(0.0, run.track_sd_rad, n), run.track_step_rad)
        return replace(run, ground_speed_mps=np.maximum(ground, 0.0), track_rad=np.mod(track, 2.0 * np.pi))

    def card(self, beliefs: Beliefs, words: dict[str, str]) -> Card:
        """Return the test card of an airspeed calibration."""
        return calibration_card(words)

    def guard(self, beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
        """Hold the planned speed and configuration against the limits."""
        return calibration_guard(beliefs, words)


METHOD: Method = AirspeedCalibration()


def _wind(run: CalibrationRun, nuisance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the wind at each leg, east and north, m/s."""
    when = when_of(run.time_s) if run.logged else np.zeros(run.ias_mps.size)
    drift = nuisance[3:5] if run.logged else np.zeros(2)
    return np.asarray(nuisance[0] + drift[0] * when), np.asarray(nuisance[1] + drift[1] * when)


def _stepped(values: FloatArray, step: float) -> FloatArray:
    return np.round(values / step) * step if step > 0.0 else values
