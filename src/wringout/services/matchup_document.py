"""A matchup as the JSON document that is kept: scores by technique and pilot law, in the units of the trade.

The shape is described in docs/json.md; its ``format`` is raised when the meaning of a field changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wringout.methods.cautions import CAUTIONS
from wringout.services.plans import Plan, domain_document, situation_document
from wringout.services.reduction_document import number
from wringout.techniques.scores import SCORES, Score
from wringout.techniques.types import Matchup, Thresholds
from wringout.units import FOOT, KNOT

FORMAT = "wringout matchup, version 1"
SIZES = {"ft": FOOT, "kt": KNOT, "s": 1.0, "1": 1.0}
"""SI size of the units scores are shown in."""

QUANTILES = (2.5, 25.0, 50.0, 75.0, 97.5)

Json = dict[str, Any]
FloatArray = NDArray[np.float64]


def matchup_document(plan: Plan, thresholds: Thresholds, matchups: Sequence[Matchup]) -> Json:
    """Return all laws of a matchup as one document."""
    return {
        "format": FORMAT,
        "answer": [],
        "support": [],
        "cautions": list(CAUTIONS),
        "situation": situation_document(plan),
        "domain": domain_document(plan),
        "thresholds": thresholds_document(thresholds),
        "draws": matchups[0].draws,
        "laws": [law_document(matchup) for matchup in matchups],
    }


def score_of(key: str) -> Score:
    """Return the score of a key."""
    return next(score for score in SCORES if score.key == key)


def thresholds_document(thresholds: Thresholds) -> Json:
    """Return what counts as a difference and what cannot be accepted."""
    score = score_of(thresholds.score)
    return {
        "score": score.key,
        "score_title": score.title,
        "smallest_difference": {
            "value": number(thresholds.difference / SIZES[score.shown_unit]),
            "unit": unit_of(score),
        },
        "probability": number(thresholds.probability),
        "lowest_stall_ratio": number(thresholds.min_stall_ratio),
        "lowest_height": {"value": number(thresholds.min_height_m / FOOT), "unit": "ft"},
        "allowed_share": number(thresholds.allowed_share),
    }


def unit_of(score: Score) -> str:
    """Return the unit a score is kept in; "" for a plain ratio or count."""
    return "" if score.shown_unit == "1" else score.shown_unit


def law_document(matchup: Matchup) -> Json:
    """Return every technique's scores under one pilot law."""
    return {
        "law": str(matchup.law),
        "sentences": [],
        "techniques": [
            {
                "key": technique.key,
                "title": technique.title,
                "complete": technique.complete,
                "scores": [score_document(score, matchup.scores[:, j, k]) for k, score in enumerate(SCORES)],
            }
            for j, technique in enumerate(matchup.techniques)
        ],
    }


def score_document(score: Score, values: FloatArray) -> Json:
    """Return one score over all draws: median, 50 and 95 % intervals, and the share in which it never came about."""
    known = values[~np.isnan(values)]
    size = SIZES[score.shown_unit]
    if known.size:
        low, near, middle, far, high = np.percentile(known / size, QUANTILES, method="inverted_cdf")
    else:
        low = near = middle = far = high = np.nan
    return {
        "key": score.key,
        "title": score.title,
        "unit": unit_of(score),
        "larger_is_better": score.larger_is_better,
        "median": number(float(middle)),
        "interval_50": [number(float(near)), number(float(far))],
        "interval_95": [number(float(low)), number(float(high))],
        "never_share": number(float(np.mean(np.isinf(known)))) if known.size else None,
    }
