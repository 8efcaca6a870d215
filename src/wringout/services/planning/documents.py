"""Test plans, checks, chances and lessons as JSON documents, in the units of the trade (docs/json.md)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from wringout.methods.cautions import CAUTIONS
from wringout.planning.chance import Chance, Share
from wringout.planning.checks import Check, Level, blocked
from wringout.planning.deciding import Call, Contest
from wringout.planning.hazards import SOURCE, initial_risk, needs_more, residual_risk
from wringout.planning.teaching import Lesson
from wringout.services.kept_numbers import number
from wringout.services.planning.plans import KeptPlan, Variant
from wringout.techniques.flying.scores import SCORE_INDEX, SCORES
from wringout.units import FOOT, from_si

Json = dict[str, Any]


def plan_document(kept: KeptPlan) -> Json:
    """Return a test plan as it is kept, with each hazard's risk before and after."""
    hazards = [
        {"key": h.key, "before": initial_risk(h), "after": residual_risk(h), "complaint": needs_more(h)}
        for h in kept.document.hazards
    ]
    return {
        "key": kept.key,
        "revision": kept.revision,
        "plan": kept.document.model_dump(mode="json", exclude_none=True),
        "risks": hazards,
        "risk_source": SOURCE,
        "cautions": list(CAUTIONS),
    }


def check_document(check: Check) -> Json:
    """Return one check."""
    return {
        "point": check.point,
        "subject": check.subject,
        "level": check.level,
        "sentence": check.sentence,
        "planned": None if check.planned is None else number(check.planned),
        "limit": None if check.limit is None else number(check.limit),
        "margin": None if check.margin is None else number(check.margin),
        "unit": check.unit,
        "upper": check.upper,
    }


def checks_document(kept: KeptPlan, checks: Sequence[Check]) -> Json:
    """Return every check of a plan, and which points they block."""
    return {
        "key": kept.key,
        "blocked": [p.key for p in kept.plan.points if blocked(checks, p.key)],
        "flight_blocked": any(c.level is Level.VIOLATED and not c.point for c in checks),
        "checks": [check_document(c) for c in checks],
        "cautions": list(CAUTIONS),
    }


def contest_document(contest: Contest) -> Json:
    """Return the question a chance is about."""
    score = SCORES[SCORE_INDEX[contest.thresholds.score]]
    value, unit = _shown(contest.thresholds.difference, score.unit)
    return {
        "first": {"key": contest.first.key, "title": contest.first.title},
        "second": {"key": contest.second.key, "title": contest.second.title},
        "procedure": contest.situation.title,
        "law": str(contest.law) if contest.situation.by_law else "",
        "score": score.key,
        "difference_that_matters": {"value": value, "unit": unit},
        "probability_asked": contest.thresholds.probability,
    }


def _shown(value: float, unit: str) -> tuple[float | None, str]:
    if unit == "m":
        return number(value / FOOT), "ft"
    if unit == "m/s":
        return number(from_si(value, "kt")), "kt"
    return number(value), unit


def _share(share: Share) -> Json:
    return {
        "count": share.count,
        "trials": share.trials,
        "probability": number(share.value),
        "interval_95": [number(share.low), number(share.high)],
    }


def chance_document(chance: Chance) -> Json:
    """Return how often a plan decided its question."""
    return {
        "decided": _share(chance.decided),
        "wrong": _share(chance.wrong),
        "ceiling": _share(chance.ceiling),
        "said": {which.name.lower(): chance.count(which) for which in Call},
        "truth": {which.name.lower(): chance.truly(which) for which in Call},
        "unusable": chance.unusable,
        "stopped": chance.stopped,
        "seed": chance.seed,
        "draws": chance.draws,
    }


def variants_document(kept: KeptPlan, contest: Contest, variants: Sequence[Variant]) -> Json:
    """Return the chances of a plan and of its variants."""
    return {
        "key": kept.key,
        "question": contest_document(contest),
        "variants": [{"title": v.title, "runs": v.runs, **chance_document(v.chance)} for v in variants],
        "cautions": list(CAUTIONS),
    }


def lessons_document(kept: KeptPlan, contest: Contest, lessons: Sequence[Lesson]) -> Json:
    """Return what each kind of point would teach next."""
    return {
        "key": kept.key,
        "question": contest_document(contest),
        "lessons": [lesson_document(one, contest.thresholds.score) for one in lessons],
    }


def lesson_document(one: Lesson, score: str) -> Json:
    """Return one lesson; standard deviations are of the deciding score ``score``, in feet or knots where it is one."""
    unit = SCORES[SCORE_INDEX[score]].unit
    before, shown = _shown(one.sd_before, unit)
    return {
        "point": one.key,
        "share_of_variance": number(one.share),
        "sd_before": before,
        "sd_after": _shown(one.sd_after, unit)[0],
        "unit": shown,
        "information_nats": number(one.nats),
    }
