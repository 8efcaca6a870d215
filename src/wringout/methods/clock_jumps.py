"""A clock that jumped, seen from the speeds: they go on as if the gap had not been there."""

from __future__ import annotations

import numpy as np

from wringout.errors import BadInputError
from wringout.methods.types import FloatArray, IntArray
from wringout.units import KNOT

JUMP_STEPS, JUMP_S = 5.0, 20.0
"""A gap this many usual steps, and seconds, long is looked at (judged)."""
EXPECTED_MPS = 4.0 * KNOT
SHARE = 0.5


def refuse_clock_jump(times_s: FloatArray, speeds_mps: FloatArray, rows: IntArray, name: str) -> None:
    """Raise BadInputError where the clock jumped ahead: over a long gap the speed changed far too little.

    The change over the gap is held against the slower of the rates of change before and after it.
    """
    steps = np.diff(times_s)
    if steps.size < 3:
        return
    usual = float(np.median(steps))
    for i in np.flatnonzero(steps > max(JUMP_STEPS * usual, JUMP_S)):
        before, after = slice(max(i - 2, 0), i + 1), slice(i + 1, i + 4)
        slopes = [_slope(times_s[part], speeds_mps[part]) for part in (before, after)]
        if slopes[0] * slopes[1] <= 0.0:
            continue
        expected = min(abs(slopes[0]), abs(slopes[1])) * float(steps[i])
        seen = abs(float(speeds_mps[i + 1] - speeds_mps[i]))
        if expected > EXPECTED_MPS and seen < SHARE * expected:
            raise BadInputError(
                f"the clock jumps by {steps[i]:.0f} s while the speed changes by {seen / KNOT:.0f} kt, where its rate "
                f"would give {expected / KNOT:.0f} kt",
                f"{name}, row {int(rows[i + 1])}, time",
                "correct the times, or cut the run there",
            )


def _slope(times_s: FloatArray, speeds_mps: FloatArray) -> float:
    """Return the slope of a straight line, 0 for a single reading."""
    if times_s.size < 2 or np.ptp(times_s) == 0.0:
        return 0.0
    return float(np.polyfit(times_s, speeds_mps, 1)[0])
