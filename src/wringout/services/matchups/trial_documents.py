"""A trial of a technique as JSON and in words, in the units of the trade."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from wringout.services.matchups.trials import FloatArray
from wringout.services.matchups.why_documents import LEAST_SHARED_FT
from wringout.techniques.flying.scores import SCORE_INDEX, SCORES
from wringout.techniques.judging.reasons import benefit
from wringout.techniques.stated.types import Trace
from wringout.units import DEGREE, FOOT, FOOT_PER_MINUTE, KNOT

POINTS = 241
"""Moments of a trial that are handed to a page, evenly spaced."""
SQUARE_FOOT = FOOT * FOOT
PLACES = {"s": 1, "deg": 1, "1": 2}
"""Decimals a score is printed with, by its unit; the others have none."""
SHOWN_SCORES = (
    "lowest_height",
    "height_15s",
    "height_30s",
    "energy_height_30s",
    "climb_time",
    "stall_ratio",
    "pitch_drop",
)


def trial_document(trace: Trace, title: str) -> dict[str, Any]:
    """Return a trial as JSON in the units of the trade, at evenly spaced moments."""
    t = np.linspace(0.0, float(trace.t_s[-1]), POINTS)

    def at(values: FloatArray, size: float, places: int) -> list[float]:
        found: list[float] = np.round(np.interp(t, trace.t_s, values) / size, places).tolist()
        return found

    made = [None if math.isnan(x) else round(x, 2) for x in trace.action_times_s.tolist()]
    return {
        "title": title,
        "t_s": np.round(t, 3).tolist(),
        "height_ft": at(trace.height_m, FOOT, 1),
        "distance_ft": at(trace.distance_m, FOOT, 0),
        "energy_height_ft": at(trace.energy_height_m, FOOT, 1),
        "speed_kcas": at(trace.cas_mps, KNOT, 2),
        "climb_fpm": at(trace.climb_rate_mps, FOOT_PER_MINUTE, 0),
        "stall_ratio": at(np.minimum(trace.stall_ratio, 3.0), 1.0, 4),
        "pitch_deg": at(trace.pitch_rad, DEGREE, 2),
        "flap_deg": at(trace.flap_rad, DEGREE, 2),
        "gear": at(trace.gear, 1.0, 3),
        "power": at(trace.power, 1.0, 3),
        "gear_area_ft2": at(trace.gear_area_m2, SQUARE_FOOT, 3),
        "flap_area_ft2": at(trace.flap_area_m2, SQUARE_FOOT, 3),
        "made_s": made,
        "scores": [_score(trace, key) for key in SHOWN_SCORES],
    }


def _score(trace: Trace, key: str) -> dict[str, Any]:
    score = SCORES[SCORE_INDEX[key]]
    value = float(trace.scores[SCORE_INDEX[key]])
    size = {"ft": FOOT, "kt": KNOT, "deg": DEGREE}.get(score.shown_unit, 1.0)
    shown = round(value / size, 2) if math.isfinite(value) else None
    return {
        "key": key,
        "title": score.title,
        "unit": "" if score.shown_unit == "1" else score.shown_unit,
        "value": shown,
        "places": PLACES.get(score.shown_unit, 0),
    }


def benefit_words(first: Trace, second: Trace) -> str:
    """Say by how much the first ends ahead of the second in energy height, and when that came."""
    found = benefit(first, second)
    ahead = float(found.ahead_m[-1]) / FOOT
    if abs(ahead) < 1.0:
        return "Both end within 1 ft of energy height of each other on this one airplane."
    word = "ahead of" if ahead > 0.0 else "behind"
    when = f" {found.sentence(4.0)}" if abs(ahead) >= LEAST_SHARED_FT else ""
    return f"It ends {abs(ahead):.0f} ft of energy height {word} the one it is held against.{when}"
