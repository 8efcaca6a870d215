"""One cell of a map: every technique's scores over the draws, judged by `wringout.techniques.judging.rule`.

Only what a map shows is kept, so that memory does not grow with the draws.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wringout.techniques.flying.scores import SCORE_INDEX, STALL_RATIO
from wringout.techniques.judging.rule import Outcome, interval, lead, quantile, rule, signed
from wringout.techniques.stated.types import FloatArray, Range, Thresholds

MIDDLE = 0.5
_CAUTIOUS = 0.05  # quantile of the stall margin that is shown


@dataclass(frozen=True, slots=True, eq=False)
class Cell:
    """What is kept of one cell. Techniques are numbers in the order flown.

    Attributes:
        outcome: favoured, too close to call, not acceptable.
        best: the acceptable complete technique with the best median; -1 if none is acceptable.
        leading: the best and those it is not favoured over, best median first.
        rival: the acceptable technique the best is least often ahead of, -1 if there is none.
        probability: share of draws in which the best is ahead of the rival by at least what matters; 1 if it is the
            only acceptable one, 0 if none is.
        difference, interval_95: of the deciding score against the rival, SI, positive where the best is better.
        stall_ratio: lowest V/Vs of the best that 95 % of the draws keep; NaN without one.
        broken: for each technique the largest share of draws that break one margin, shape (techniques,).
        median: of the deciding score, SI, shape (techniques,).
        ahead: share of draws in which i is ahead of j by at least what matters, shape (techniques, techniques).
        gap: median difference of i against j, SI, positive where i is better, same shape.
    """

    outcome: Outcome
    best: int
    leading: tuple[int, ...]
    rival: int
    probability: float
    difference: float
    interval_95: Range
    stall_ratio: float
    broken: FloatArray
    median: FloatArray
    ahead: FloatArray
    gap: FloatArray


def judge_cell(scores: FloatArray, complete: tuple[bool, ...], start_height_m: float, limits: Thresholds) -> Cell:
    """Return what is kept of a cell.

    Args:
        scores: SI, shape (draws, techniques, SCORE_COUNT). complete: which techniques end clean.
        start_height_m: above the ground. limits: what counts as a difference and as acceptable.
    """
    found = rule(scores, complete, start_height_m, limits)
    broken = np.max(found.margins, axis=1)
    kept = (broken, found.median, found.ahead, found.gap)
    nan = float("nan")
    if not found.acceptable:
        return Cell(found.outcome, -1, (), -1, 0.0, nan, (nan, nan), nan, *kept)
    best, *others = found.acceptable
    stall_ratio = float(quantile(scores[:, best, STALL_RATIO], _CAUTIOUS))
    if not others:
        return Cell(found.outcome, best, (best,), -1, 1.0, nan, (nan, nan), stall_ratio, *kept)
    rival = min(others, key=lambda j: (found.ahead[best, j], found.gap[best, j]))
    values = signed(scores[:, :, SCORE_INDEX[limits.score]], limits)
    better = lead(values[:, best], values[:, rival])
    return Cell(
        found.outcome,
        best,
        found.leading,
        rival,
        float(found.ahead[best, rival]),
        float(quantile(better, MIDDLE)),
        interval(better, 0.95),
        stall_ratio,
        *kept,
    )
