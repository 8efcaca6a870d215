"""What runs of airspeed readings share: how well a reading is read, and the readings an airplane would have given."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from wringout.airplane.beliefs import Instrument
from wringout.methods.types import FloatArray, Nuisance

STEP_S = 0.5
"""Over which the rate of change of speed is taken, s."""


def speed_reading_sd(instrument: Instrument, whole_units_mps: float, slope_mps2: FloatArray) -> FloatArray:
    """Return the standard deviation of readings, m/s: the dial, its whole units, the clock times the rate of change.

    Args:
        instrument: reading quality. whole_units_mps: what readings are rounded to, 0 for not at all.
        slope_mps2: rate of change of the indicated airspeed at each reading, (n,).
    """
    rounding = whole_units_mps**2 / 12.0
    return np.asarray(np.sqrt(instrument.reading_sd_mps**2 + rounding + (slope_mps2 * instrument.clock_sd_s) ** 2))


def drawn_nuisances(nuisances: Sequence[Nuisance], rng: np.random.Generator) -> FloatArray:
    """Return a run's nuisances drawn from their priors; the entry speed as planned, for it is flown."""
    return np.array([n.mean if n.key == "entry speed" else rng.normal(n.mean, n.sd) for n in nuisances])


def simulated_readings(
    instrument: Instrument,
    whole_units_mps: float,
    time_s: FloatArray,
    rng: np.random.Generator,
    curve: Callable[[FloatArray], FloatArray],
) -> FloatArray:
    """Return airspeeds as they would be read, m/s: each a little early or late, with dial noise, in whole units.

    Args:
        instrument: reading quality. whole_units_mps: what readings are rounded to, 0 for not at all.
        time_s: when they are read, s. rng: of the noise. curve: indicated airspeed, m/s, at rising times.
    """
    times = np.maximum(time_s + rng.normal(0.0, instrument.clock_sd_s, time_s.size), 0.0)
    order = np.argsort(times, kind="stable")
    speeds = np.empty(times.size)
    speeds[order] = curve(times[order])
    read = speeds + rng.normal(0.0, instrument.reading_sd_mps, speeds.size)
    return np.round(read / whole_units_mps) * whole_units_mps if whole_units_mps > 0.0 else read
