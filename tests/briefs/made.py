"""Findings and matchups made up by the tests, to be said and drawn."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import Any

import numpy as np

from wringout.briefs.content import BriefContent, Units
from wringout.briefs.evidence import Evidence
from wringout.estimate.findings import Finding
from wringout.techniques.flying.scores import (
    ENERGY_HEIGHT,
    EXCEEDANCE,
    LOWEST_HEIGHT,
    SCORE_COUNT,
    SCORE_TIMES_S,
    STALL_RATIO,
)
from wringout.techniques.stated.orders import Detent, orders
from wringout.techniques.stated.types import Domain, EntrySpeed, GoAround, Law, Matchup, Thresholds
from wringout.units import FOOT, POUND

DETENTS = (Detent("up", 0.0), Detent("half", 0.35), Detent("full", 0.7))
DECIDES = ENERGY_HEIGHT + SCORE_TIMES_S.index(30.0)


def evidence(units: Units = "aviation") -> Evidence:
    """Return the evidence of a study without runs, enough to make sentences."""
    nothing: Any = None
    return Evidence(BriefContent("t", "q", "", True, "a", nothing, units=units), MappingProxyType({}))


def finding(key: str, unit: str, value: float, spread: float, **changes: Any) -> Finding:
    """Return a finding with normal intervals of standard deviation ``spread``, SI."""
    made = Finding(
        key,
        key,
        unit,
        value,
        (value - 0.6745 * spread, value + 0.6745 * spread),
        (value - 1.96 * spread, value + 1.96 * spread),
        (value - 5.0 * spread, value + 5.0 * spread),
        50.0,
        1300.0,
        ("G1", "G2"),
        {"readings": 0.7, "mark time": 0.3},
    )
    return replace(made, **changes)


def matchup(offsets_ft: list[float], noise_ft: float = 1.0, draws: int = 200, **changes: Any) -> Matchup:
    """Return a matchup whose techniques differ in energy height at 30 s by these amounts, with some scatter."""
    rng = np.random.default_rng(5)
    techniques = orders(DETENTS, 0.7)[: len(offsets_ft)]
    scores = np.zeros((draws, len(techniques), SCORE_COUNT))
    common = rng.normal(400.0, 60.0, draws)
    for j, offset in enumerate(offsets_ft):
        scores[:, j, DECIDES] = (common + offset + rng.normal(0.0, noise_ft, draws)) * FOOT
    scores[:, :, STALL_RATIO] = 1.25
    scores[:, :, LOWEST_HEIGHT] = -5.0
    scores[:, :, EXCEEDANCE] = 0.0
    made = Matchup(
        techniques=techniques,
        law=Law.HOLD_ATTITUDE,
        situation=GoAround(0.7, EntrySpeed(1.3)),
        domain=Domain((2700 * POUND, 3200 * POUND), (0.0, 4000 * FOOT), (0.0, 20.0), (1.25, 1.35)),
        thresholds=Thresholds(difference=25 * FOOT),
        draws=draws,
        seed=3,
        scores=scores,
        conditions=np.zeros((draws, 4)),
        representative=0,
        traces=(),
    )
    return replace(made, **changes)
