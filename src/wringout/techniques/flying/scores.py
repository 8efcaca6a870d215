"""What a technique is scored on, and the compiled bookkeeping that scores a trajectory as it is flown.

Heights and energy heights are changes since the start. Energy height is ``h + V^2 / 2g`` with true airspeed: no pitch
law can flatter it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from wringout.techniques.flying.compiling import compiled, inlined
from wringout.units import FOOT, FOOT_PER_MINUTE

SCORE_TIMES_S: Final = (5.0, 10.0, 15.0, 30.0, 60.0)
OBSTACLE_M: Final = 50.0 * FOOT
"""Height of the obstacle above the start height; the landing screen height of 14 CFR 23.2130(a)."""
SUSTAINED_S: Final = 5.0
"""How long a climb must last without a break to count as sustained."""
CLIMBING_MPS: Final = 10.0 * FOOT_PER_MINUTE
"""Rate from which the airplane counts as climbing and not as level; below what an instrument shows."""
FIRST_SECONDS_S: Final = 5.0

LOWEST_HEIGHT: Final = 0
HEIGHT: Final = 1
ENERGY_HEIGHT: Final = HEIGHT + len(SCORE_TIMES_S)
CLIMB_TIME: Final = ENERGY_HEIGHT + len(SCORE_TIMES_S)
OBSTACLE_DISTANCE: Final = CLIMB_TIME + 1
STALL_RATIO: Final = CLIMB_TIME + 2
ACTIONS: Final = CLIMB_TIME + 3
EXCEEDANCE: Final = CLIMB_TIME + 4
CONTACT_SINK: Final = CLIMB_TIME + 5
PITCH_DROP: Final = CLIMB_TIME + 6
END_TIME: Final = CLIMB_TIME + 7
END_DISTANCE: Final = CLIMB_TIME + 8
SCORE_COUNT: Final = CLIMB_TIME + 9


@dataclass(frozen=True, slots=True)
class Score:
    """One thing a technique is scored on.

    Attributes:
        key: stable name.
        title: plain words, to stand after a number.
        unit: SI unit of the stored value.
        shown_unit: unit it is shown in.
        larger_is_better: which way is better.
        better: the comparative for the better one, e.g. ``"higher"``.
        datum: what a value is counted from, to stand after the number.
    """

    key: str
    title: str
    unit: str
    shown_unit: str
    larger_is_better: bool
    better: str
    datum: str = ""


ABOVE_START: Final = "above the start"
"""What heights are counted from."""

SCORES: Final[tuple[Score, ...]] = (
    Score("lowest_height", "lowest height", "m", "ft", True, "higher", ABOVE_START),
    *(Score(f"height_{t:.0f}s", f"height at {t:.0f} s", "m", "ft", True, "higher", ABOVE_START) for t in SCORE_TIMES_S),
    *(
        Score(f"energy_height_{t:.0f}s", f"energy height at {t:.0f} s", "m", "ft", True, "higher", ABOVE_START)
        for t in SCORE_TIMES_S
    ),
    Score("climb_time", "time to a sustained climb", "s", "s", False, "shorter"),
    Score("obstacle_distance", "distance to clear 50 ft above the start", "m", "ft", False, "shorter"),
    Score("stall_ratio", "lowest V/Vs", "1", "1", True, "higher"),
    Score("actions", "number of actions in the first 5 s", "1", "1", False, "lower"),
    Score("exceedance", "largest speed above a limit", "m/s", "kt", False, "lower"),
    Score("contact_sink", "hardest contact with the runway", "m/s", "ft/min", False, "softer"),
    Score("pitch_drop", "largest drop of the nose", "rad", "deg", False, "smaller"),
    Score("end_time", "time to the end of the procedure", "s", "s", False, "shorter"),
    Score("end_distance", "distance to the end of the procedure", "m", "ft", True, "longer"),
)
"""All scores, in the order of the last axis of ``Matchup.scores``. A time or distance never reached is infinite."""

SCORE_INDEX: Final = {score.key: k for k, score in enumerate(SCORES)}


@inlined
def turning_point(y0: float, y1: float, d0: float, d1: float) -> float:
    """Return where in 0..1 the cubic Hermite through a step has slope zero, slopes of opposite sign at its ends."""
    real = type(y0)
    zero, one, rise = real(0.0), real(1.0), y1 - y0
    bend = real(6.0) * rise - real(4.0) * d0 - real(2.0) * d1
    twist = real(3.0) * (d0 + d1) - real(6.0) * rise
    root = np.sqrt(max(bend * bend - real(4.0) * twist * d0, zero))
    # the root where the slope has the sense of d1, written without cancellation
    x: float = real(-2.0) * d0 / (bend + (root if d0 < zero else -root))
    return min(max(x, zero), one)


@compiled
def rise_through(level: float, y0: float, y1: float, d0: float, d1: float) -> float:
    """Return where in 0..1 the cubic Hermite through a step rises through ``level``, to 1e-8.

    Newton from the chord, kept between places known to lie below and above the level.
    """
    rise = y1 - y0
    bend, twist = 3.0 * rise - 2.0 * d0 - d1, d0 + d1 - 2.0 * rise
    low, high, x = 0.0, 1.0, (level - y0) / rise
    for _ in range(_MOST_ROOT_STEPS):
        above = y0 - level + x * (d0 + x * (bend + x * twist))
        low, high = (x, high) if above < 0.0 else (low, x)
        slope = d0 + x * (2.0 * bend + 3.0 * x * twist)
        better = x - above / slope if slope > 0.0 else low
        better = better if low < better < high else 0.5 * (low + high)
        if abs(better - x) < _ROOT:
            return better
        x = better
    return x


_MOST_ROOT_STEPS: Final = 40
_ROOT: Final = 1e-4  # a Newton step shorter than this leaves an error of its square
