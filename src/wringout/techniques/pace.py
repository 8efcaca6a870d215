"""How long the steps of a trajectory are.

Found by trial on 4,000 random techniques, so that heights stay within 0.1 ft of those of steps a twentieth as long.
Transients after a change of power or of the way of flying want short steps; what is left then is slow: the phugoid at a
held attitude, the pilot's correction of speed otherwise.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple


class Pace(NamedTuple):
    """How long steps may be: at most ``longest`` s, ``longest_quiet`` once nothing moves; and in time constants.

    The time constant is that of the flight path: lift damping at a held attitude, the pilot's own where he bends the
    path (names with ``bent``). ``sharp`` for ``sharp_for`` time constants after power or the way of flying pitch has
    changed, ``moving`` while a device moves and ``settling`` time constants more, then ``quiet``. Numbers of the
    buffer's precision.
    """

    longest: float
    longest_quiet: float
    sharp: float
    sharp_bent: float
    sharp_for: float
    moving: float
    moving_bent: float
    settling: float
    quiet: float
    quiet_bent: float


STEP_S: Final = 1.0
"""Longest step of a batch while anything moves, s."""
QUIET: Final = 2.0
"""Factor on it once nothing moves."""
STABLE: Final = 1.8
"""Time constants of lift damping that a step at a held attitude may span; beyond 2.78 this Runge-Kutta blows up."""
_SHARES: Final = (0.7, 0.35, 6.0, 0.7, 1.0, 2.5, 1.35, 1.5)


def pace_of(longest_step_s: float, quiet: float, real: Any) -> Pace:
    """Return the pace with a longest step, and a factor on it once nothing moves, in a type of numbers."""
    return Pace(*(real(x) for x in (longest_step_s, quiet * longest_step_s, *_SHARES)))
