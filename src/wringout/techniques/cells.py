"""One cell of a map: every technique's scores over the draws, judged by the rule of `wringout.techniques.verdict`.

The rule is the same and a test holds the two together: margins first, then the difference that matters in the asked
share of the draws, else too close to call. Only what a map shows is kept, so that memory does not grow with the draws.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wringout.techniques.scores import EXCEEDANCE, LOWEST_HEIGHT, SCORE_INDEX, SCORES, STALL_RATIO
from wringout.techniques.types import FloatArray, Range, Thresholds
from wringout.techniques.verdict import Outcome

_EXCEEDED_MPS = 0.05  # as in the verdict
LOW, MIDDLE, HIGH = 0.025, 0.5, 0.975
_CAUTIOUS = 0.05  # quantile of the stall margin that is shown


@dataclass(frozen=True, slots=True, eq=False)
class Cell:
    """What is kept of one cell. Techniques are numbers in the order flown.

    Attributes:
        outcome: favoured, too close to call, not acceptable.
        best: the acceptable complete technique with the best median; -1 if none is acceptable.
        leading: the best and those it is not favoured over, best median first.
        rival: the leading or beaten technique nearest to the best, -1 if there is none acceptable.
        probability: share of draws in which the best is ahead of every acceptable rival taken one at a time, the
            smallest of these; 1 if it is the only acceptable one, 0 if none is.
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
    values = scores[:, :, SCORE_INDEX[limits.score]]
    larger = SCORES[SCORE_INDEX[limits.score]].larger_is_better
    signed = values if larger else -values
    broken = _broken(scores, start_height_m, limits)
    ahead, gap = _pairs(signed, limits.difference)
    median = quantile(signed, MIDDLE)
    candidates = [j for j, whole in enumerate(complete) if whole] or list(range(len(complete)))
    fit = [j for j in candidates if broken[j] <= limits.allowed_share]
    ranked = sorted(fit, key=lambda j: -median[j])
    kept = median if larger else -median
    if not ranked:
        nan = float("nan")
        return Cell(Outcome.NOT_ACCEPTABLE, -1, (), -1, 0.0, nan, (nan, nan), nan, broken, kept, ahead, gap)
    best, others = ranked[0], ranked[1:]
    beaten = {j for j in others if ahead[best, j] >= limits.probability and ahead[best, j] >= ahead[j, best]}
    leading = (best, *(j for j in others if j not in beaten))
    rival = min(others, key=lambda j: (ahead[best, j], gap[best, j])) if others else -1
    gain = _gain(signed[:, best], signed[:, rival]) if others else np.full(1, np.nan)
    low, middle, high = (float(quantile(gain[:, None], share)[0]) for share in (LOW, MIDDLE, HIGH))
    return Cell(
        outcome=Outcome.FAVOURED if len(leading) == 1 else Outcome.TOO_CLOSE,
        best=best,
        leading=leading,
        rival=rival,
        probability=float(ahead[best, rival]) if others else 1.0,
        difference=middle,
        interval_95=(low, high),
        stall_ratio=float(quantile(scores[:, best, STALL_RATIO][:, None], _CAUTIOUS)[0]),
        broken=broken,
        median=kept,
        ahead=ahead,
        gap=gap,
    )


def quantile(columns: FloatArray, share: float) -> FloatArray:
    """Return a quantile of each column that is one of its values, so that infinities are harmless."""
    found = np.quantile(columns, share, axis=0, method="inverted_cdf")
    return np.asarray(found, dtype=np.float64)


def _broken(scores: FloatArray, start_height_m: float, limits: Thresholds) -> FloatArray:
    """Return the largest share of draws in which one of the three margins breaks, for each technique."""
    stalls = np.mean(scores[:, :, STALL_RATIO] < limits.min_stall_ratio, axis=0)
    low = np.mean(start_height_m + scores[:, :, LOWEST_HEIGHT] < limits.min_height_m, axis=0)
    fast = np.mean(scores[:, :, EXCEEDANCE] > _EXCEEDED_MPS, axis=0)
    larger = np.maximum(np.maximum(stalls, low), fast)
    return np.asarray(larger, dtype=np.float64)


def _gain(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the difference; two that never get there are equal."""
    both = np.isinf(one) & np.isinf(other)
    return np.asarray(np.where(both, 0.0, one) - np.where(both, 0.0, other))


def _pairs(signed: FloatArray, matters: float) -> tuple[FloatArray, FloatArray]:
    """Return, for every two techniques, the share of draws ahead by what matters and the median difference."""
    count = signed.shape[1]
    ahead, gap = np.zeros((count, count)), np.zeros((count, count))
    for i in range(count - 1):
        gain = _gain(signed[:, i, None], signed[:, i + 1 :])
        ahead[i, i + 1 :] = np.mean(gain >= matters, axis=0)
        ahead[i + 1 :, i] = np.mean(gain <= -matters, axis=0)
        gap[i, i + 1 :] = quantile(gain, MIDDLE)
        gap[i + 1 :, i] = -gap[i, i + 1 :]
    return ahead, gap
