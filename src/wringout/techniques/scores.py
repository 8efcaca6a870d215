"""What a technique is scored on, and the compiled bookkeeping that scores a trajectory as it is flown.

Heights and energy heights are changes since the start. Energy height is ``h + V^2 / 2g`` with true airspeed: no pitch
law can flatter it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from numba import njit

from wringout.techniques.layout import (
    N_CLIMB,
    N_DISTANCE,
    N_GROUND_SPEED,
    N_HEIGHT,
    N_LIFT,
    N_LIFT_MAX,
    N_SPEED,
    N_TIME,
)
from wringout.techniques.types import FloatArray
from wringout.units import FOOT, FOOT_PER_MINUTE, STANDARD_GRAVITY

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
SCORE_COUNT: Final = CLIMB_TIME + 5


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


_FROM: Final = "above the start"
SCORES: Final[tuple[Score, ...]] = (
    Score("lowest_height", "lowest height", "m", "ft", True, "higher", _FROM),
    *(Score(f"height_{t:.0f}s", f"height at {t:.0f} s", "m", "ft", True, "higher", _FROM) for t in SCORE_TIMES_S),
    *(
        Score(f"energy_height_{t:.0f}s", f"energy height at {t:.0f} s", "m", "ft", True, "higher", _FROM)
        for t in SCORE_TIMES_S
    ),
    Score("climb_time", "time to a sustained climb", "s", "s", False, "shorter"),
    Score("obstacle_distance", "distance to clear 50 ft above the start", "m", "ft", False, "shorter"),
    Score("stall_ratio", "lowest V/Vs", "1", "1", True, "higher"),
    Score("actions", "number of actions in the first 5 s", "1", "1", False, "lower"),
    Score("exceedance", "largest speed above a limit", "m/s", "kt", False, "lower"),
)
"""All scores, in the order of the last axis of ``Matchup.scores``. A time or distance never reached is infinite."""

SCORE_INDEX: Final = {score.key: k for k, score in enumerate(SCORES)}


@njit(cache=True, error_model="numpy", nogil=True)
def cubic_at(x: float, y0: float, y1: float, d0: float, d1: float) -> float:
    """Return the cubic Hermite value at ``x`` in 0..1; ``d`` are end slopes times the step."""
    rest = 1.0 - x
    return y0 * (1.0 + 2.0 * x) * rest * rest + d0 * x * rest * rest + (y1 * (3.0 - 2.0 * x) - d1 * rest) * x * x


@njit(cache=True, error_model="numpy", nogil=True)
def turning_point(y0: float, y1: float, d0: float, d1: float) -> float:
    """Return where in 0..1 the cubic Hermite through a step has slope zero, slopes of opposite sign at its ends."""
    c = d0
    b = 6.0 * (y1 - y0) - 4.0 * d0 - 2.0 * d1
    k = 3.0 * (d0 + d1) - 6.0 * (y1 - y0)
    root = math.sqrt(max(b * b - 4.0 * k * c, 0.0))
    # the root where the slope has the sense of d1, written without cancellation
    x = -2.0 * c / (b + root) if d0 < 0.0 else -2.0 * c / (b - root)
    return min(max(x, 0.0), 1.0)


@njit(cache=True, error_model="numpy", nogil=True)
def rise_through(level: float, y0: float, y1: float, d0: float, d1: float) -> float:
    """Return where in 0..1 the cubic Hermite through a step rises through ``level``, by bisection to 2e-9."""
    low, high = 0.0, 1.0
    for _ in range(29):
        middle = 0.5 * (low + high)
        if cubic_at(middle, y0, y1, d0, d1) < level:
            low = middle
        else:
            high = middle
    return high


@njit(cache=True, error_model="numpy", nogil=True)
def stall_ratio(node: FloatArray) -> float:
    """Return V/Vs at this moment's flap angle, weight and load factor: ``sqrt(CLmax q S / L)``; 1 at the stall."""
    return math.sqrt(node[N_LIFT_MAX] / max(node[N_LIFT], 1e-3 * node[N_LIFT_MAX]))


@njit(cache=True, error_model="numpy", nogil=True)
def open_scores(score: FloatArray) -> None:
    """Set a row of scores to what holds before anything was flown."""
    for k in range(SCORE_COUNT):
        score[k] = math.nan
    score[LOWEST_HEIGHT] = 0.0
    score[CLIMB_TIME] = math.inf
    score[OBSTACLE_DISTANCE] = math.inf
    score[STALL_RATIO] = math.inf
    score[EXCEEDANCE] = 0.0


@njit(cache=True, error_model="numpy", nogil=True)
def score_moment(score: FloatArray, node: FloatArray, start_speed: float, above_limit: float) -> None:
    """Take in one moment: margins, and the heights if the moment is one of the stated times."""
    score[STALL_RATIO] = min(score[STALL_RATIO], stall_ratio(node))
    score[EXCEEDANCE] = max(score[EXCEEDANCE], above_limit)
    for k in range(len(SCORE_TIMES_S)):
        if abs(node[N_TIME] - SCORE_TIMES_S[k]) < 1e-9:
            gained = (node[N_SPEED] * node[N_SPEED] - start_speed * start_speed) / (2.0 * STANDARD_GRAVITY)
            score[HEIGHT + k] = node[N_HEIGHT]
            score[ENERGY_HEIGHT + k] = node[N_HEIGHT] + gained


@njit(cache=True, error_model="numpy", nogil=True)
def score_step(score: FloatArray, old: FloatArray, new: FloatArray, climbing_since: float) -> float:
    """Take in one step; returns since when the airplane climbs without a break, s, or NaN."""
    step = new[N_TIME] - old[N_TIME]
    h0, h1 = old[N_HEIGHT], new[N_HEIGHT]
    d0, d1 = step * old[N_CLIMB], step * new[N_CLIMB]
    if d0 < 0.0 < d1:
        x = turning_point(h0, h1, d0, d1)
        score[LOWEST_HEIGHT] = min(score[LOWEST_HEIGHT], cubic_at(x, h0, h1, d0, d1))
    score[LOWEST_HEIGHT] = min(score[LOWEST_HEIGHT], h1)
    # the same cubic seen from an airplane that climbs at the threshold: where it turns, the threshold is passed
    slow = step * CLIMBING_MPS
    if d0 < slow < d1:
        climbing_since = old[N_TIME] + step * turning_point(h0, h1 - slow, d0 - slow, d1 - slow)
    elif d1 <= slow:
        climbing_since = math.nan
    elif math.isnan(climbing_since):
        climbing_since = old[N_TIME]
    if math.isinf(score[CLIMB_TIME]) and new[N_TIME] - climbing_since >= SUSTAINED_S:
        score[CLIMB_TIME] = climbing_since
    if math.isinf(score[OBSTACLE_DISTANCE]) and h0 < OBSTACLE_M <= h1:
        x = rise_through(OBSTACLE_M, h0, h1, d0, d1)
        x0, x1 = old[N_DISTANCE], new[N_DISTANCE]
        score[OBSTACLE_DISTANCE] = cubic_at(x, x0, x1, step * old[N_GROUND_SPEED], step * new[N_GROUND_SPEED])
    return climbing_since
