"""The rule of every verdict, in numbers: margins first, then the difference that matters in the asked share of draws.

A whole matchup (`wringout.techniques.judging.verdict`) and one cell of a map (`wringout.techniques.judging.cells`) are
judged by it; what they add is words, or brevity. Techniques are numbers here, in the order flown.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from wringout.errors import BadInputError
from wringout.techniques.flying.scores import EXCEEDANCE, LOWEST_HEIGHT, SCORE_INDEX, SCORES, STALL_RATIO
from wringout.techniques.stated.types import FloatArray, Range, Thresholds

_EXCEEDED_MPS = 0.05  # less is the arithmetic of speed conversions
_BELOW_M = 0.05  # less is the arithmetic of wheels that touch and of procedures that end at a height


class Outcome(StrEnum):
    """What a verdict can be."""

    FAVOURED = "favoured"
    TOO_CLOSE = "too close to call"
    NOT_ACCEPTABLE = "not acceptable"


@dataclass(frozen=True, slots=True, eq=False)
class Ruling:
    """What the rule says of techniques flown on the same draws.

    Attributes:
        outcome: favoured, too close to call, not acceptable.
        leading: the acceptable candidate with the best median and those it is not favoured over, best median first.
        acceptable: the candidates that keep the margins, best median first; candidates are the complete techniques, or
            all where none is complete.
        margins: share of draws that break the stall margin, the height and a limit speed, shape (techniques, 3).
        median: of the deciding score, SI, shape (techniques,).
        ahead: share of draws in which i is ahead of j by at least what matters, shape (techniques, techniques).
        gap: median difference of i against j, SI, positive where i is better, same shape.
    """

    outcome: Outcome
    leading: tuple[int, ...]
    acceptable: tuple[int, ...]
    margins: FloatArray
    median: FloatArray
    ahead: FloatArray
    gap: FloatArray


def rule(scores: FloatArray, complete: tuple[bool, ...], start_height_m: float, limits: Thresholds) -> Ruling:
    """Return what the rule says.

    Args:
        scores: SI, shape (draws, techniques, SCORE_COUNT). complete: which techniques end clean.
        start_height_m: above the ground. limits: what counts as a difference and as acceptable.

    Raises:
        BadInputError: the deciding score does not exist in some draws, since the procedure ends before it.
    """
    values = scores[:, :, SCORE_INDEX[limits.score]]
    _check_scored(values, limits)
    median = quantile(values, 0.5)
    merit = median if larger_is_better(limits) else -median
    shares = margins_broken(scores, start_height_m, limits)
    ahead, gap = _pairs(signed(values, limits), limits.difference)
    candidates = [j for j, whole in enumerate(complete) if whole] or list(range(len(complete)))
    fit = sorted((j for j in candidates if keeps_margins(shares[j], limits)), key=lambda j: -rounded(float(merit[j])))
    leading = tuple(j for j in fit if j == fit[0] or winner(fit[0], j, ahead, limits) != fit[0])
    outcome = Outcome.NOT_ACCEPTABLE
    if leading:
        outcome = Outcome.FAVOURED if len(leading) == 1 else Outcome.TOO_CLOSE
    return Ruling(outcome, leading, tuple(fit), shares, median, ahead, gap)


def rounded(median: float) -> float:
    """Return a median (SI) to a millionth, by which orders are ranked.

    Orders that have done the same until then end alike; which is ahead by the last bits differs between processors.
    """
    return round(median, 6)


def _check_scored(values: FloatArray, limits: Thresholds) -> None:
    missing = float(np.mean(np.isnan(values).any(axis=1)))
    if missing > 0.0:
        title = SCORES[SCORE_INDEX[limits.score]].title
        raise BadInputError(
            f"{title} lies beyond the end of what is flown in {missing:.0%} of the draws",
            "difference, score",
            "let a score of the end decide, such as end_distance, or start higher",
        )


def winner(i: int, j: int, ahead: FloatArray, limits: Thresholds) -> int:
    """Return which of two acceptable techniques is favoured over the other, or -1; the earlier where all is even."""
    first, second = min(i, j), max(i, j)
    return (-1, first, second)[favoured(float(ahead[first, second]), float(ahead[second, first]), limits)]


def favoured(ahead: float, behind: float, limits: Thresholds) -> int:
    """Return 1 where the first of two is favoured, -1 where the second is, 0 where it is too close to call.

    Args:
        ahead, behind: shares of draws in which the first is ahead, and behind, by at least what matters.
    """
    if max(ahead, behind) < limits.probability:
        return 0
    return 1 if ahead >= behind else -1


def margins_broken(scores: FloatArray, start_height_m: float, limits: Thresholds) -> FloatArray:
    """Return the shares of draws that break stall margin, height and limit speeds, shape (techniques, 3)."""
    broken: tuple[NDArray[np.bool_], ...] = (
        scores[:, :, STALL_RATIO] < limits.min_stall_ratio,
        start_height_m + scores[:, :, LOWEST_HEIGHT] < limits.min_height_m - _BELOW_M,
        scores[:, :, EXCEEDANCE] > _EXCEEDED_MPS,
    )
    return np.column_stack([np.mean(one, axis=0) for one in broken])


def keeps_margins(shares: FloatArray, limits: Thresholds) -> bool:
    """Return whether no margin is broken in more draws than are allowed; ``shares`` of one technique."""
    return bool(np.max(shares) <= limits.allowed_share)


def larger_is_better(limits: Thresholds) -> bool:
    """Return whether more of the deciding score is better."""
    return SCORES[SCORE_INDEX[limits.score]].larger_is_better


def signed(values: FloatArray, limits: Thresholds) -> FloatArray:
    """Return values of the deciding score, or differences of it, turned so that more is better."""
    return np.asarray(values if larger_is_better(limits) else -values)


def lead(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the difference of two scores; two that never get there are equal."""
    both = np.isinf(one) & np.isinf(other) & (np.signbit(one) == np.signbit(other))
    return np.asarray(np.where(both, 0.0, one) - np.where(both, 0.0, other))


def quantile(columns: FloatArray, share: float) -> FloatArray:
    """Return a quantile of each column that is one of its values, so that infinities are harmless."""
    found = np.quantile(columns, share, axis=0, method="inverted_cdf")
    return np.asarray(found, dtype=np.float64)


def interval(values: FloatArray, content: float) -> Range:
    """Return the central interval of values that holds a share of them."""
    return float(quantile(values, 0.5 - 0.5 * content)), float(quantile(values, 0.5 + 0.5 * content))


def _pairs(merits: FloatArray, matters: float) -> tuple[FloatArray, FloatArray]:
    """Return, for every two techniques, the share of draws ahead by what matters and the median difference."""
    count = merits.shape[1]
    ahead, gap = np.zeros((count, count)), np.zeros((count, count))
    for i in range(count - 1):
        found = lead(merits[:, i, None], merits[:, i + 1 :])
        ahead[i, i + 1 :] = np.mean(found >= matters, axis=0)
        ahead[i + 1 :, i] = np.mean(found <= -matters, axis=0)
        gap[i, i + 1 :] = quantile(found, 0.5)
        gap[i + 1 :, i] = -gap[i, i + 1 :]
    return ahead, gap
