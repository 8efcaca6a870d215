"""Where a verdict turns: how far each stated threshold could be moved, by itself, before the answer is another.

The thresholds are stated before flying and moving them afterwards is no finding; these numbers only say how firmly an
answer stands. All follow from the rule of :mod:`wringout.techniques.judging.rule` and the draws already flown.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wringout.techniques.flying.scores import SCORE_INDEX, STALL_RATIO
from wringout.techniques.judging.rule import keeps_margins, lead, margins_broken, rule, signed
from wringout.techniques.stated.types import FloatArray, Matchup

_BY_THE_RATIO = 0
"""The column of the stall margin among the margins."""


@dataclass(frozen=True, slots=True)
class Turning:
    """Where the verdict of a matchup turns. Techniques are numbers, in the order flown.

    Attributes:
        leader: the acceptable order with the best median; None where none is acceptable.
        nearest: the acceptable order that keeps the leader longest from being favoured; None where there is no other.
        difference: the leader is favoured over all others for every difference that matters up to this one, in the
            unit of the deciding score, SI; 0 or less where no difference would do.
        ahead: share of draws in which the leader is ahead of the nearest at all.
        ratio_holder: the order that keeps every margin up to the highest smallest V/Vs; None where no V/Vs would do.
        ratio: that V/Vs: above it the order breaks the stall margin in more draws than are allowed.
    """

    leader: int | None
    nearest: int | None
    difference: float
    ahead: float
    ratio_holder: int | None
    ratio: float


def turning(matchup: Matchup) -> Turning:
    """Return where the verdict of a matchup turns."""
    limits, complete = matchup.thresholds, tuple(t.complete for t in matchup.techniques)
    ruled = rule(matchup.scores, complete, matchup.situation.start_height_m, limits)
    merits = signed(matchup.scores[:, :, SCORE_INDEX[limits.score]], limits)
    leader = ruled.acceptable[0] if ruled.acceptable else None
    nearest, difference, ahead = None, math.inf, 1.0
    for j in ruled.acceptable[1:]:
        gap = lead(merits[:, ruled.acceptable[0]], merits[:, j])
        found = _held(gap, limits.probability)
        if found < difference:
            nearest, difference, ahead = j, found, float(np.mean(gap > 0.0))
    candidates = [j for j, whole in enumerate(complete) if whole] or list(range(len(complete)))
    holder, ratio = _highest_ratio(matchup, [leader] if leader is not None else candidates)
    return Turning(leader, nearest, difference, ahead, holder, ratio)


def _held(gap: FloatArray, share: float) -> float:
    """Return the largest value that at least ``share`` of the gaps reach."""
    enough = next(n for n in range(1, gap.size + 1) if n / gap.size >= share)
    return float(np.sort(gap)[::-1][enough - 1])


def _highest_ratio(matchup: Matchup, among: Sequence[int]) -> tuple[int | None, float]:
    """Return which of these techniques keeps all margins up to the highest smallest V/Vs, and that V/Vs."""
    limits = matchup.thresholds
    shares = margins_broken(matchup.scores, matchup.situation.start_height_m, limits)
    shares[:, _BY_THE_RATIO] = 0.0
    draws = matchup.scores.shape[0]
    place = next((n for n in range(draws) if (n + 1) / draws > limits.allowed_share), draws - 1)
    found: tuple[int | None, float] = (None, -math.inf)
    for j in among:
        ratio = float(np.sort(matchup.scores[:, j, STALL_RATIO])[place])
        if keeps_margins(shares[j], limits) and ratio > found[1]:
            found = (j, ratio)
    return found
