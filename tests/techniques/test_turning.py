"""Where a verdict turns, held against the rule itself on both sides of each turning point."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.briefs.made import matchup
from wringout.techniques.flying.scores import STALL_RATIO
from wringout.techniques.judging.rule import Outcome, rule
from wringout.techniques.judging.turning import turning
from wringout.techniques.stated.types import Matchup, Thresholds


def outcome(flown: Matchup, **changes: float) -> Outcome:
    """Return the outcome of the rule with a threshold moved."""
    limits: Thresholds = replace(flown.thresholds, **changes)  # type: ignore[arg-type]
    complete = tuple(t.complete for t in flown.techniques)
    return rule(flown.scores, complete, flown.situation.start_height_m, limits).outcome


@settings(max_examples=80, deadline=None)
@given(st.lists(st.floats(-120.0, 120.0), min_size=2, max_size=7), st.floats(0.5, 60.0), st.floats(0.5, 1.0))
def test_the_answer_is_another_on_the_other_side_of_the_difference(
    offsets: list[float], noise: float, probability: float
) -> None:
    flown = matchup(offsets, noise, draws=100)
    flown = replace(flown, thresholds=replace(flown.thresholds, probability=probability))
    found = turning(flown)
    assert found.nearest is not None
    if found.difference > 1e-3:
        assert outcome(flown, difference=found.difference - 1e-6) is Outcome.FAVOURED
    assert outcome(flown, difference=max(found.difference + 1e-6, 1e-6)) is Outcome.TOO_CLOSE


@settings(max_examples=40, deadline=None)
@given(st.floats(0.9, 1.4), st.floats(0.01, 0.1), st.integers(0, 10_000))
def test_an_order_is_acceptable_up_to_the_ratio_and_not_beyond(middle: float, spread: float, seed: int) -> None:
    flown = matchup([0.0, 5.0], draws=200)
    scores = flown.scores.copy()
    scores[:, :, STALL_RATIO] = np.random.default_rng(seed).normal(middle, spread, scores.shape[:2])
    flown = replace(flown, scores=scores, thresholds=replace(flown.thresholds, min_stall_ratio=2.0))
    found = turning(flown)
    assert found.leader is None
    assert outcome(flown, min_stall_ratio=found.ratio) is not Outcome.NOT_ACCEPTABLE
    assert outcome(flown, min_stall_ratio=math.nextafter(found.ratio, 9.0) + 1e-12) is Outcome.NOT_ACCEPTABLE


def test_an_order_alone_has_nothing_to_turn_on() -> None:
    found = turning(matchup([0.0]))
    assert (found.leader, found.nearest, found.difference) == (0, None, math.inf)
    assert found.ratio == pytest.approx(1.25)
