"""What a calibration point is once taken from a recording. SI units."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wringout.airspeed import true_from_calibrated
from wringout.methods.airspeed_calibration.circle import Legs
from wringout.methods.types import Conditions, FloatArray, IntArray, Source

KEY = "airspeed calibration"
GROUND_SPEED_SD_MPS = 0.25
"""Standard deviation of a satellite ground speed held over a leg, beside its step [m/s] (judged, no source)."""
TRACK_SD_RAD = np.deg2rad(1.0)
"""Standard deviation of a track held over a leg, beside its step [rad] (judged, no source)."""
TEMPERATURE_SD_K = 2.0
"""Standard uncertainty of the outside air temperature [K] (judged, no source)."""

DRIFT_SD_MPS = 1.5
"""How far each component of the wind may change through a logged run, standard deviation [m/s] (judged, no source)."""


@dataclass(frozen=True, slots=True)
class CalibrationRun:
    """Legs, or stretches of a turn, at one indicated airspeed in one configuration; arrays of shape (n,).

    ``time_s`` is NaN where no clock was written, ``heading_rad`` where no heading was read. ``pressure_altitude_m`` and
    ``isa_deviation_k`` are those of each leg. ``airspeed_sd_mps`` is how far one leg's airspeed may be from its reading
    (true airspeed). A ``logged`` run's is found from its own scatter, and ``worth`` is how many independent stretches
    stand behind it.
    """

    key: str
    title: str
    source: Source
    conditions: Conditions
    ias_mps: FloatArray
    ground_speed_mps: FloatArray
    track_rad: FloatArray
    heading_rad: FloatArray
    time_s: FloatArray
    pressure_altitude_m: FloatArray
    isa_deviation_k: FloatArray
    rows: IntArray
    flap_rad: float
    gear: float
    airspeed_sd_mps: float
    ground_speed_sd_mps: float = GROUND_SPEED_SD_MPS
    track_sd_rad: float = TRACK_SD_RAD
    ground_speed_step_mps: float = 0.0
    track_step_rad: float = 0.0
    logged: bool = False
    worth: float = math.inf
    method: str = KEY


def legs_of(run: CalibrationRun) -> Legs:
    """Return the run's ground velocities, with what its own airspeed readings say of each leg's true airspeed."""
    true = true_from_calibrated(run.ias_mps, run.pressure_altitude_m, run.isa_deviation_k)
    return Legs(
        ground_speed_mps=run.ground_speed_mps,
        track_rad=run.track_rad,
        faster_mps=true - float(np.mean(true)),
        ground_speed_sd_mps=float(np.hypot(run.ground_speed_sd_mps, run.ground_speed_step_mps / np.sqrt(12.0))),
        track_sd_rad=float(np.hypot(run.track_sd_rad, run.track_step_rad / np.sqrt(12.0))),
        airspeed_sd_mps=run.airspeed_sd_mps,
        heading_rad=run.heading_rad,
        when=when_of(run.time_s) if run.logged else None,
        drift_sd_mps=DRIFT_SD_MPS,
    )


def when_of(time_s: FloatArray) -> FloatArray:
    """Return times from the middle of the run over its length, -1/2 to 1/2."""
    first, last = float(time_s[0]), float(time_s[-1])
    return np.asarray((time_s - 0.5 * (first + last)) / max(last - first, 1e-9))
