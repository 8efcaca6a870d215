"""How long the steps of a trajectory are.

Found by trial on 4,000 random techniques and tried on 14,000 others, so that heights stay within 0.1 ft of those of
steps a fiftieth as long. A step looks how its rates bent and says how long the next may be. What it cannot see is what
comes: the steps after a change of power or of the way of flying are short without asking, and none is longer than what
moves, or the slow motion that is left, allows.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple


class Pace(NamedTuple):
    """How long steps may be; names with ``bent`` where the pilot bends the path, the others at a held attitude.

    At most ``longest`` s, ``longest_quiet`` once nothing moves. In time constants of the path (lift damping at a held
    attitude, the pilot's own where he bends it): ``sharp`` for ``lasting`` after power or the way of flying pitch has
    changed, at most ``moving`` while a device moves and ``settling`` longer, at most ``quiet`` afterwards. Within that,
    ``grain / (unrest + calm)`` s, where ``unrest`` is the fourth root of how much the rates bend, m/s^4; at least
    ``least`` s. ``relax`` is the share of lift damping that the step takes out (see `stepping`): less than all of it
    leaves the smaller error, as speed follows the path. ``speed_times`` is the longest step in the pilot's time
    constants of speed, ``wary`` the longest in s while the wing is low above a runway or lift is cut at CLmax, where
    nothing damps what a step gets wrong. Numbers of the buffer's precision.
    """

    longest: float
    longest_quiet: float
    sharp: float
    sharp_bent: float
    lasting: float
    lasting_bent: float
    moving: float
    moving_bent: float
    settling: float
    settling_bent: float
    quiet: float
    quiet_bent: float
    grain: float
    grain_bent: float
    calm: float
    calm_bent: float
    least: float
    relax: float
    speed_times: float
    wary: float


STEP_S: Final = 5.0
"""Longest step of a batch while anything moves, s."""
QUIET: Final = 1.0
"""Factor on it once nothing moves."""
_SHARES: Final = (0.7, 0.4, 1.5, 2.2, 1.3, 1.05, 0.5, 0.3, 3.0, 4.0, 0.53, 0.58, 0.04, 0.03, 0.1, 0.65, 1.2, 1.5)


def pace_of(longest_step_s: float, quiet: float, real: Any) -> Pace:
    """Return the pace with a longest step, and a factor on it once nothing moves, in a type of numbers."""
    return Pace(*(real(x) for x in (longest_step_s, quiet * longest_step_s, *_SHARES)))
