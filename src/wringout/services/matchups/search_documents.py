"""The best reachable technique as the JSON document that is kept, with its answer and its reason in sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from wringout.airplane.beliefs import Beliefs
from wringout.briefs.verdict_words import flown_words
from wringout.methods.cautions import CAUTIONS
from wringout.services.kept_numbers import number, numbers
from wringout.services.matchups.documents import SIZES, plan_sentences, score_of, thresholds_document, unit_of
from wringout.services.matchups.map_axes import kind_of
from wringout.services.matchups.plans import Plan, domain_document, situation_document
from wringout.services.matchups.why_documents import (
    benefit_sentences,
    flight_document,
    is_served_by_energy,
    why_document,
)
from wringout.techniques.flying.scores import Score
from wringout.techniques.judging.maps import MapStudy
from wringout.techniques.judging.search import ALL_BUT, PAUSES_S, Distance, Found
from wringout.techniques.judging.verdict import CAUTION
from wringout.techniques.judging.wording import (
    amount,
    per_cent,
    per_cent_beside,
    span,
    thresholds_in_words,
    with_interval,
)
from wringout.techniques.stated.types import Action, Device, Gate, Technique, Thresholds
from wringout.units import DEGREE, FOOT, KNOT

FORMAT = "wringout technique search, version 1"

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class PrintedOrder:
    """A technique that is printed: what the hands do, and where it is printed."""

    technique: Technique
    source: str


def search_document(
    found: Found, study: MapStudy, plan: Plan, beliefs: Beliefs, printed: Sequence[PrintedOrder], seed: int
) -> Json:
    """Return what was found as one document; the same search gives the same document."""
    score = score_of(study.thresholds.score)
    sources: dict[str, list[str]] = {}
    for one in printed:
        sources.setdefault(one.technique.key, []).append(one.source)
    return {
        "format": FORMAT,
        "answer": _answer(found, study, score),
        "printed": [_printed_words(d, sources[d.technique.key], study, score) for d in _printed(found, sources)],
        "support": [
            thresholds_in_words(study.thresholds),
            *plan_sentences(plan, study.thresholds),
            _tried(found, len(study.rows)),
        ],
        "cautions": [CAUTION, *CAUTIONS],
        "law": str(study.law) if study.situation.by_law else "",
        "situation": situation_document(plan),
        "domain": domain_document(plan),
        "thresholds": thresholds_document(study.thresholds),
        "draws": len(study.rows),
        "seed": seed,
        "held": [
            {
                "condition": str(condition),
                "value": number(value / kind_of(condition, study.situation).size),
                "unit": kind_of(condition, study.situation).unit,
            }
            for condition, value in study.fixed.items()
        ],
        "unit": unit_of(score),
        "best": _best(found, beliefs, score),
        "tried": found.tried,
        "dropped": found.dropped,
        "stops": found.stops,
        "orders": [_order(d, sources.get(d.technique.key, []), score) for d in found.distances],
        "nearest": None if found.nearest is None else found.nearest.key,
        "explained_against": None if found.other is None else found.other.key,
        "reason": reason_words(found, score),
        "why": None if found.why is None else why_document(found.why),
        "flight": flight_document(found.trace),
    }


def _tried(found: Found, draws: int) -> str:
    broken = f"{found.dropped:,} of them break" if found.dropped else "none of them breaks"
    return (
        f"{found.tried:,} techniques were tried on half of the {draws:,} draws, with {found.stops} stops of partial "
        f"travel between two flap settings and pauses of up to {max(PAUSES_S):.0f} s before each action; "
        f"{broken} a margin too often. Of those within {per_cent(ALL_BUT)} of the difference that matters from the "
        "best, the one that asks least of the hands is taken. The other half of the draws judged the choice."
    )


def _best(found: Found, beliefs: Beliefs, score: Score) -> Json:
    size = SIZES[score.shown_unit]
    return {
        "key": found.best.key,
        "title": found.best.title,
        "actions": [action_document(action, beliefs) for action in found.best.actions],
        "median": number(found.median / size),
        "interval_95": numbers([x / size for x in found.interval_95]),
        "share_broken": number(found.broken),
    }


def action_document(action: Action, beliefs: Beliefs) -> Json:
    """Return one movement of a lever in words: the device, where to, what is waited for."""
    if action.device is Device.FLAPS:
        names = {round(s.angle_rad, 6): s.name for s in beliefs.settings} | {0.0: "up"}
        to = names.get(round(action.target, 6), f"{action.target / DEGREE:.0f} deg")
    elif action.device is Device.GEAR:
        to = "down" if action.target > 0.5 else "up"
    else:
        to = f"{action.target:.2f}"
    heights = (Gate.HEIGHT, Gate.HEIGHT_BELOW)
    size, unit = (FOOT, "ft") if action.gate in heights else (KNOT, "kt") if "speed" in action.gate else (1.0, "")
    gate = str(action.gate) if action.gate is not Gate.NONE else None
    value = number(action.gate_value / size) if unit else None
    return {
        "device": str(action.device),
        "to": to,
        "angle_deg": number(action.target / DEGREE) if action.device is Device.FLAPS else None,
        "wait_s": number(action.wait_s),
        "gate": gate,
        "gate_value": value,
        "gate_unit": unit,
    }


def _order(distance: Distance, sources: Sequence[str], score: Score) -> Json:
    size = SIZES[score.shown_unit]
    return {
        "key": distance.technique.key,
        "title": distance.technique.title,
        "printed_in": list(sources),
        "complete": distance.technique.complete,
        "acceptable": distance.acceptable,
        "behind_by": number(distance.median / size),
        "interval_95": numbers([x / size for x in distance.interval_95]),
        "probability": number(distance.ahead),
    }


def reason_words(found: Found, score: Score) -> str:
    """Say through which device the benefit over the order it is explained against came, and when.

    Nothing is said where losing energy is what is flown for.
    """
    if found.why is None or found.other is None or not is_served_by_energy(score):
        return ""
    return benefit_sentences(found.why, "it", found.other.title)


def _answer(found: Found, study: MapStudy, score: Score) -> list[str]:
    law = f"{flown_words(study.law, study.situation)}, the"
    lead = (
        f"{law} best reachable technique found is “{found.best.title}”: {score.title} "
        f"{with_interval(found.median, found.interval_95, score)}."
    )
    if found.nearest is None:
        return [lead]
    distance = next(d for d in found.distances if d.technique.key == found.nearest.key)
    return [text for text in (lead, _against(distance, study, score), reason_words(found, score)) if text]


def _against(distance: Distance, study: MapStudy, score: Score) -> str:
    limits = study.thresholds
    title = distance.technique.title
    middle = f"{amount(abs(distance.median), score)} {_word(distance.median, score)} (95 %: {_ahead(distance, score)})"
    share = f"by at least {amount(limits.difference, score)} in {_asked(distance.ahead, limits)} of the draws"
    if distance.ahead >= limits.probability:
        return f"It is favoured over the nearest known order, “{title}”: {score.title} is {middle}, and {share}."
    return (
        f"Against the nearest known order, “{title}”, it is too close to call: {score.title} is {middle}, and {share}; "
        f"{per_cent(limits.probability)} was asked for."
    )


def _asked(share: float, limits: Thresholds) -> str:
    return per_cent_beside(share, limits.probability)


def _word(median: float, score: Score) -> str:
    if median >= 0.0:
        return score.better
    return {"higher": "lower", "shorter": "longer", "lower": "higher", "longer": "shorter"}.get(score.better, "worse")


def _ahead(distance: Distance, score: Score) -> str:
    return span(distance.interval_95, score) if all(map(math.isfinite, distance.interval_95)) else "not finite"


def _printed(found: Found, sources: dict[str, list[str]]) -> list[Distance]:
    return [d for d in found.distances if d.technique.key in sources]


def _printed_words(distance: Distance, sources: Sequence[str], study: MapStudy, score: Score) -> str:
    """Say how a printed order stands beside the best found; never that a handbook is wrong."""
    where = "; ".join(sources)
    kept = "" if distance.acceptable else " It breaks a stated margin in more draws than are allowed."
    share = per_cent(distance.ahead)
    matters = amount(study.thresholds.difference, score)
    return (
        f"Printed in {where}: “{distance.technique.title}”. The best found is ahead of it by at least {matters} in "
        f"{share} of the draws (median {amount(distance.median, score)}, 95 %: {_ahead(distance, score)}).{kept}"
    )
