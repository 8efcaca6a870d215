"""The best technique a search has found, taken out of its document so that a map can fly it among the known orders."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from wringout.airplane.beliefs import Beliefs
from wringout.errors import BadInputError
from wringout.services.matchups.compare import Contest
from wringout.services.matchups.kept import SEARCH_KIND, SHORT_LAWS, Kept, kept_under
from wringout.services.matchups.plan_details import flap_angle, hand_s
from wringout.store import Study, View
from wringout.techniques.stated.orders import POSITIVE_RATE_MPS, with_hand
from wringout.techniques.stated.types import Action, Device, Gate, Law, Technique
from wringout.units import DEGREE, FOOT, KNOT

_SIZES = {"ft": FOOT, "kt": KNOT}


@dataclass(frozen=True, slots=True)
class FoundBest:
    """A technique found by search, and the sentence that says where it comes from; ``known`` if it is a known order."""

    technique: Technique
    known: bool
    sentence: str


def search_under(view: View, study: Study, law: Law) -> Kept:
    """Return the search kept for a pilot law; raises NotFoundError where there is none."""
    missing = f"nothing was searched for a pilot who flies “{law}”"
    return kept_under(view, study, SEARCH_KIND, SHORT_LAWS[law], missing, "search first")


def found_best(view: View, contest: Contest, law: Law) -> FoundBest:
    """Return the best technique the kept search found under a pilot law.

    Raises:
        NotFoundError: nothing was searched under that law.
        BadInputError: the search is of another plan, or the study has changed since.
    """
    kept = search_under(view, contest.study, law)
    if not kept.current or kept.body["plan"] != contest.plan.document.model_dump(mode="json"):
        changed = "has another plan" if kept.current else "was made before the study changed"
        raise BadInputError(f"the search kept for “{law}” {changed}", "map, with the found best", "search again")
    hand = hand_s(contest.plan.document.details, "plan")
    technique = with_hand(technique_of_document(kept.body["best"], contest.beliefs), hand)
    twin = next((t for t in contest.techniques if _alike(t, technique)), None)
    return FoundBest(twin or technique, twin is not None, _sentence(kept.body, twin))


def technique_of_document(best: Mapping[str, Any], beliefs: Beliefs) -> Technique:
    """Return a technique from the document of a search."""
    return Technique(best["key"], best["title"], tuple(_action(one, beliefs) for one in best["actions"]))


def _action(one: Mapping[str, Any], beliefs: Beliefs) -> Action:
    device, gate = Device(one["device"]), Gate(one["gate"] or Gate.NONE)
    if device is Device.FLAPS:
        stop = one.get("angle_deg")
        target = flap_angle(one["to"], beliefs, "search") if stop is None else stop * DEGREE
    elif device is Device.GEAR:
        target = 1.0 if one["to"] == "down" else 0.0
    else:
        target = float(one["to"])
    value = POSITIVE_RATE_MPS if gate is Gate.POSITIVE_CLIMB else 0.0
    if one["gate_value"] is not None:
        value = one["gate_value"] * _SIZES[one["gate_unit"]]
    return Action(device, target, float(one["wait_s"]), gate, value)


def _alike(one: Technique, other: Technique) -> bool:
    """Return whether two techniques make the same movements; numbers that were kept are rounded."""
    if len(one.actions) != len(other.actions):
        return False
    return all(
        (a.device, a.gate) == (b.device, b.gate)
        and math.isclose(a.target, b.target, abs_tol=1e-6)
        and math.isclose(a.wait_s, b.wait_s, abs_tol=1e-6)
        and math.isclose(a.gate_value, b.gate_value, rel_tol=1e-6)
        for a, b in zip(one.actions, other.actions, strict=True)
    )


def _sentence(body: Mapping[str, Any], twin: Technique | None) -> str:
    held = ", ".join(f"{one['condition']} {one['value']:,.4g} {one['unit']}".rstrip() for one in body["held"])
    where = f"at {held}, all else as the plan has it" if held else "over the conditions of the plan"
    if twin is not None:
        return f"The best found by search {where} is one of the known orders: “{twin.title}”."
    return (
        f"Among the known orders flies the best found by search {where}: “{body['best']['title']}”. At other "
        "conditions a search might find another."
    )
