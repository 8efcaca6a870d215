"""A matchup as the JSON document that is kept: scores by technique and pilot law, in the units of the trade.

The shape is described in docs/json.md; its ``format`` is raised when the meaning of a field changes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wringout.briefs.belief_words import beliefs_sentence
from wringout.briefs.verdict_words import flown_words
from wringout.methods.cautions import CAUTIONS
from wringout.services.kept_numbers import number
from wringout.services.matchups.plan_details import details_sentences
from wringout.services.matchups.plans import Plan, domain_document, situation_document
from wringout.services.matchups.why_documents import matchup_why
from wringout.techniques.flying.scores import SCORES, Score
from wringout.techniques.judging.verdict import CAUTION, PairVerdict, Standing, Verdict, compare, judge, standing
from wringout.techniques.judging.wording import domain_sentence, start_margin_sentence
from wringout.techniques.stated.types import Device, Matchup, Thresholds
from wringout.units import DEGREE, FOOT, FOOT_PER_MINUTE, KNOT

FORMAT = "wringout matchup, version 1"
SIZES = {"ft": FOOT, "kt": KNOT, "s": 1.0, "1": 1.0, "ft/min": FOOT_PER_MINUTE, "deg": DEGREE}
"""SI size of the units scores are shown in."""

QUANTILES = (2.5, 25.0, 50.0, 75.0, 97.5)

Json = dict[str, Any]
FloatArray = NDArray[np.float64]


def matchup_document(
    plan: Plan, thresholds: Thresholds, matchups: Sequence[Matchup], learned: Mapping[str, str] | None = None
) -> Json:
    """Return all laws of a matchup, judged, as one document; ``learned`` is what the runs did to each parameter."""
    verdicts = [judge(matchup) for matchup in matchups]
    believed = beliefs_sentence(learned or {}, matchups[0].situation)
    return {
        "format": FORMAT,
        "answer": [
            *(under(m, verdict.sentence) for m, verdict in zip(matchups, verdicts, strict=True)),
            *([believed] if believed else []),
        ],
        "support": [
            verdicts[0].threshold,
            domain_sentence(matchups[0], [matchup.law for matchup in matchups]),
            *plan_sentences(plan, thresholds),
            *(under(m, text) for m in matchups if (text := gear_or_flaps_first(m))),
        ],
        "cautions": [CAUTION, *CAUTIONS],
        "situation": situation_document(plan),
        "domain": domain_document(plan),
        "thresholds": thresholds_document(thresholds),
        "draws": matchups[0].draws,
        "laws": [law_document(m, verdict) for m, verdict in zip(matchups, verdicts, strict=True)],
    }


def plan_sentences(plan: Plan, thresholds: Thresholds) -> list[str]:
    """Return what a plan states beyond the usual, and whether its start already breaks a margin, a sentence each."""
    start = start_margin_sentence(plan.situation, plan.domain, thresholds)
    return [*details_sentences(plan.document.details), *([start] if start else [])]


def under(matchup: Matchup, sentence: str) -> str:
    """Return a sentence with its pilot law in front, such as "With the speed held: too close to call between ..."."""
    return f"{flown_words(matchup.law, matchup.situation)}: {sentence[:1].lower()}{sentence[1:]}"


ALIKE = 1.0e-6
"""Medians of a score that differ by no more than this (SI) differ by rounding."""


def gear_or_flaps_first(matchup: Matchup) -> str:
    """Return how the best order that starts with the gear stands against the best that starts with the flaps.

    Best by the median of the deciding score, among the complete orders, the first of those that fly alike; nothing
    where one kind is missing.
    """
    best: dict[Device, Standing] = {}
    larger = score_of(matchup.thresholds.score).larger_is_better
    for technique in matchup.techniques:
        if not technique.complete or not technique.actions:
            continue
        device, found = technique.actions[0].device, standing(matchup, technique.key)
        known = best.get(device)
        if known is None or (found.median - known.median if larger else known.median - found.median) > ALIKE:
            best[device] = found
    if len(best) < 2:
        return ""
    return compare(matchup, best[Device.GEAR].key, best[Device.FLAPS].key).sentence


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


def law_document(matchup: Matchup, verdict: Verdict) -> Json:
    """Return every technique's scores under one pilot law, and the verdict."""
    complete = {technique.key for technique in matchup.techniques if technique.complete}
    return {
        "law": matchup.flown,
        "by_law": matchup.situation.by_law,
        "verdict": {
            "outcome": str(verdict.outcome),
            "leading": list(verdict.leading),
            "sentence": verdict.sentence,
            "gear_or_flaps_first": gear_or_flaps_first(matchup) or None,
            "domain": verdict.domain,
            "threshold": verdict.threshold,
        },
        "why": matchup_why(matchup, verdict.standings),
        "techniques": [
            {
                "key": technique.key,
                "title": technique.title,
                "complete": technique.complete,
                **standing_document(found),
                "scores": [score_document(score, matchup.scores[:, j, k]) for k, score in enumerate(SCORES)],
            }
            for j, (technique, found) in enumerate(zip(matchup.techniques, verdict.standings, strict=True))
        ],
        "pairs": [
            pair_document(pair, score_of(matchup.thresholds.score))
            for pair in verdict.pairs
            if {pair.first, pair.second} <= complete
        ],
    }


def standing_document(found: Standing) -> Json:
    """Return whether a technique keeps the stated margins, and the shares of draws that break each."""
    return {
        "acceptable": found.acceptable,
        "share_below_stall_ratio": number(found.below_stall_margin),
        "share_below_height": number(found.below_height),
        "share_above_a_limit": number(found.above_limit),
        "sentence": found.sentence,
    }


def pair_document(pair: PairVerdict, score: Score) -> Json:
    """Return one complete order against another on the deciding score; positive where the first is better."""
    size = SIZES[score.shown_unit]
    return {
        "first": pair.first,
        "second": pair.second,
        "outcome": str(pair.outcome),
        "favoured": pair.favoured,
        "share_first_ahead": number(pair.first_ahead),
        "share_second_ahead": number(pair.second_ahead),
        "share_alike": number(pair.alike),
        "unit": unit_of(score),
        "difference": number(pair.difference / size),
        "interval_50": [number(x / size) for x in pair.interval_50],
        "interval_95": [number(x / size) for x in pair.interval_95],
        "sentence": pair.sentence,
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
