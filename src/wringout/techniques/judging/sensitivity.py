"""Which uncertain input, if it were known better, would settle a verdict, from the draws already flown.

For each input the first-order variance share ``Var(E[Y | X]) / Var(Y)``: the part of the variance of the difference
``Y`` that is expected to go when ``X`` is known exactly, together with whatever goes with it in the draws. It is
estimated from given data by regression on cosines of the ranks of ``X`` (E. Plischke, "How to compute variance-based
sensitivity indicators with your spreadsheet software", Environmental Modelling & Software 35, 2012; from memory), with
the share that chance alone would explain taken off. Where inputs go together the shares do not add up to one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.stats import rankdata

from wringout.errors import BadInputError
from wringout.techniques.stated.types import FloatArray

HARMONICS = 6
SLICES = 10
FEWEST_DRAWS = 100


@dataclass(frozen=True, slots=True)
class Share:
    """One uncertain input and what knowing it would do.

    Attributes:
        key: the input. variance: share of the variance of the difference that goes, 0 to 1.
        standard_error: of that share from the finite number of draws, by leaving out tenths.
        settled: expected share of its values, in tenths by rank, at which the verdict would be decided.
    """

    key: str
    variance: float
    standard_error: float
    settled: float


def ranking(inputs: Mapping[str, FloatArray], gain: FloatArray, difference: float, probability: float) -> list[Share]:
    """Return every input that varies, the one that would remove most variance first.

    Args:
        inputs: values of each input in the draws. gain: difference between two techniques in the same draws.
        difference, probability: what counts as a win, as in the thresholds.

    Raises:
        BadInputError: too few draws, a difference that is not finite, or an input of another length.
    """
    if len(gain) < FEWEST_DRAWS or not np.isfinite(gain).all():
        raise BadInputError(
            "a difference over the draws that is infinite or of too few draws has no variance to share out",
            "sensitivity",
            f"use a score that is always reached, and at least {FEWEST_DRAWS} draws",
        )
    found = []
    for key, values in inputs.items():
        if values.shape != gain.shape:
            raise BadInputError(
                f"'{key}' has {len(values)} values for {len(gain)} draws", "sensitivity", "one for each"
            )
        if np.ptp(values) > 1e-12 * max(float(np.abs(values).max()), 1e-300):
            share, error = first_order(values, gain)
            found.append(Share(key, share, error, _settled(values, gain, difference, probability)))
    return sorted(found, key=lambda item: -item.variance)


def first_order(values: FloatArray, gain: FloatArray) -> tuple[float, float]:
    """Return the first-order variance share of an input, at least zero, and its standard error by the jackknife."""
    groups = np.arange(len(gain)) % SLICES
    parts = np.array([_explained(values[groups != g], gain[groups != g]) for g in range(SLICES)])
    error = float(np.sqrt((SLICES - 1) / SLICES * np.sum((parts - parts.mean()) ** 2)))
    return max(_explained(values, gain), 0.0), error


def _explained(values: FloatArray, gain: FloatArray) -> float:
    """Return R squared of the regression, adjusted for its number of terms."""
    spread = float(np.var(gain))
    if spread <= 0.0:
        return 0.0
    shares = (rankdata(values) - 0.5) / len(values)
    basis = np.cos(np.pi * np.outer(shares, np.arange(HARMONICS + 1)))
    # The cosines are all but orthogonal, so the small normal equations lose nothing; ties leave them singular at worst.
    fitted, *_ = np.linalg.lstsq(basis.T @ basis, basis.T @ gain, rcond=1e-10)
    left = float(np.var(gain - basis @ fitted)) / spread
    return 1.0 - left * (len(gain) - 1) / (len(gain) - 1 - HARMONICS)


def _settled(values: FloatArray, gain: FloatArray, difference: float, probability: float) -> float:
    """Return the share of slices by rank of an input in which one of the two would be favoured."""
    slices = np.array_split(gain[np.argsort(values, kind="stable")], SLICES)
    won = [max(np.mean(part >= difference), np.mean(part <= -difference)) >= probability for part in slices]
    return float(np.mean(won))


@dataclass(frozen=True, slots=True)
class Measured:
    """How an input is measured: the method whose run would do it, and what to do in words."""

    method: str
    words: str


_STEP_OUT = "decelerate level with the gear up and again with it down"
_FLAPS_OUT = "decelerate level at each flap setting, gear up,"
_RUNS: Mapping[str, Measured] = {
    "gear_area": Measured("level deceleration", f"{_STEP_OUT}, at one flap setting"),
    "interaction": Measured("level deceleration", f"{_STEP_OUT}, with full flap"),
    "door_bump": Measured("level deceleration", "decelerate level while the gear travels"),
    "clean_area": Measured("glide", "glide clean at several steady speeds"),
    "clean_slope": Measured("glide", "glide clean at several steady speeds, slow ones too"),
    "span_efficiency": Measured("glide", "glide clean at several steady speeds, slow ones too"),
    "flap_area": Measured("level deceleration", "decelerate level at each flap setting, gear up"),
    "flap_lift_slope": Measured("level deceleration", f"{_FLAPS_OUT} from a fast and from a slow entry"),
    "flap_floor": Measured("level deceleration", f"{_FLAPS_OUT} from a slow entry"),
    "disk_efficiency": Measured("level acceleration", "accelerate level with full power"),
    "efficiency_slope": Measured("level acceleration", "accelerate level with full power over a wide range of speeds"),
    "thrust_bend": Measured("level acceleration", "accelerate level with full power over a wide range of speeds"),
    "rated_power": Measured("climb", "climb steadily with full power"),
    "gear_up_time": Measured("transit timing", "time the gear going up"),
    "gear_down_time": Measured("transit timing", "time the gear going down"),
    "flap_up_time": Measured("transit timing", "time the flaps going up"),
    "flap_down_time": Measured("transit timing", "time the flaps going down"),
    "cl_max": Measured("stall series", "fly stalls with flaps up, at a height your instructor and manual agree with"),
    "cl_gain": Measured(
        "stall series", "fly stalls at each flap setting, at a height your instructor and manual allow"
    ),
    "mass_factor": Measured("", "weigh the airplane and write down fuel and people"),
    "weight": Measured("", "no flight settles it: state the verdict for a narrower range of weights"),
    "density_altitude": Measured("", "no flight settles it: state the verdict for a narrower range of air"),
    "isa_deviation": Measured("", "no flight settles it: state the verdict for a narrower range of air"),
    "entry_speed": Measured("", "no flight settles it: state the verdict for a narrower range of entry speeds"),
    "reaction": Measured("go around pairs", "fly go-arounds at a height and time the hands"),
}


def run_to_fly(key: str) -> Measured | None:
    """Return how to measure an input better; ``flap_area.2`` is found under ``flap_area``; None if nobody has said."""
    return _RUNS.get(key.partition(".")[0])
