"""How techniques stand beside the leader of their matchup, as the verdict judged them, in the order they are shown."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wringout.techniques.flying.scores import SCORE_INDEX, SCORES, Score
from wringout.techniques.judging.verdict import PairVerdict, Standing, Verdict, judge
from wringout.techniques.stated.types import Matchup, Range, Technique

_ROUNDING = 1e-6
"""Scores nearer to each other than this (metres, seconds, ratios) differ by the order of the arithmetic only."""


@dataclass(frozen=True, slots=True)
class Place:
    """One technique beside the leader, SI.

    ``ahead`` is how much better it is than the leader in the deciding score (less than 0 when it is worse): middle,
    central 50 and 95 %. ``behind_share`` is the share of draws in which the leader is ahead by at least the difference
    that matters. ``same_as_leader`` tells that its scores are the leader's in every draw, but for rounding in the
    arithmetic.
    """

    index: int
    technique: Technique
    standing: Standing
    ahead: float
    half: Range
    most: Range
    behind_share: float
    leads: bool
    same_as_leader: bool

    @property
    def broken_share(self) -> float:
        """The largest share of draws in which one of the margins is broken."""
        return max(self.standing.below_stall_margin, self.standing.below_height, self.standing.above_limit)


@dataclass(frozen=True, slots=True)
class Judged:
    """A matchup with its verdict and its places: leader first, then complete orders, then baselines, best first."""

    matchup: Matchup
    verdict: Verdict
    places: tuple[Place, ...]

    @property
    def score(self) -> Score:
        """The score that decides."""
        return SCORES[SCORE_INDEX[self.matchup.thresholds.score]]

    @property
    def orders(self) -> tuple[Place, ...]:
        """The places of the complete orders; of all techniques when none is complete."""
        return tuple(place for place in self.places if place.technique.complete) or self.places


def judged(matchup: Matchup) -> Judged:
    """Return a matchup with its verdict and places. Without an acceptable order the best complete one stands first."""
    verdict = judge(matchup)
    leader = _leader(matchup, verdict)
    places = [_place(matchup, verdict, j, leader) for j in range(len(matchup.techniques))]
    places.sort(key=lambda p: (not p.technique.complete, not p.leads, -p.ahead, p.index))
    return Judged(matchup, verdict, tuple(places))


def _leader(matchup: Matchup, verdict: Verdict) -> int:
    keys = [technique.key for technique in matchup.techniques]
    if verdict.leading:
        return keys.index(verdict.leading[0])
    sign = 1.0 if SCORES[SCORE_INDEX[matchup.thresholds.score]].larger_is_better else -1.0
    among = [s for s in verdict.standings if s.complete] or list(verdict.standings)
    return keys.index(max(among, key=lambda s: sign * s.median).key)


def _place(matchup: Matchup, verdict: Verdict, index: int, leader: int) -> Place:
    technique, standing = matchup.techniques[index], verdict.standings[index]
    if index == leader:
        return Place(index, technique, standing, 0.0, (0.0, 0.0), (0.0, 0.0), 0.0, leads=True, same_as_leader=True)
    pair = _pair(verdict, technique.key, matchup.techniques[leader].key)
    same = bool(
        np.allclose(matchup.scores[:, index], matchup.scores[:, leader], rtol=0.0, atol=_ROUNDING, equal_nan=True)
    )
    if pair.first == technique.key:
        values, behind = (pair.difference, pair.interval_50, pair.interval_95), pair.second_ahead
    else:
        half, most = pair.interval_50, pair.interval_95
        values, behind = (0.0 - pair.difference, (-half[1], -half[0]), (-most[1], -most[0])), pair.first_ahead
    return Place(index, technique, standing, *values, behind, leads=False, same_as_leader=same)


def _pair(verdict: Verdict, one: str, other: str) -> PairVerdict:
    return next(pair for pair in verdict.pairs if {pair.first, pair.second} == {one, other})
