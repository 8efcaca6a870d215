"""The steady climb in the landing configuration over the posterior draws, beside what the regulations ask."""

from __future__ import annotations

from typing import Any

import numpy as np

from wringout.airplane.vector import FLAP_UP_TIME, FloatArray
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.findings.reduce import airplane_rows, kept_reduction
from wringout.services.kept_numbers import number, numbers
from wringout.services.opening import the_study
from wringout.store import ChangeMark, Store, change_mark
from wringout.techniques.climb import QUICK_FLAPS_S, balked_landing
from wringout.techniques.judging.rule import interval, quantile
from wringout.techniques.judging.wording import per_cent
from wringout.units import FOOT_PER_MINUTE, POUND

DRAWS = 300
SPEED_FACTOR = 1.3
LEAST_QUICK = 0.05
"""Share of draws with quick flaps from which on it is said."""
CAUTION = (
    "This is a computed figure of a fitted airplane in standard air at sea level, no showing of compliance; the "
    "airplane's approved manual says what it climbs."
)
_WORKED: dict[tuple[str, str], tuple[ChangeMark, dict[str, Any]]] = {}
_MOST_WORKED = 8


def _quick_flaps(rows: FloatArray) -> list[str]:
    """Say that the older rule lets quick flaps count as up, where this airplane's may be that quick."""
    quick = float(np.mean(rows[:, FLAP_UP_TIME] <= QUICK_FLAPS_S))
    if quick < LEAST_QUICK:
        return []
    return [
        f"Flaps that can safely be retracted in {QUICK_FLAPS_S:g} s or less may be taken as up by 14 CFR 23.77(a)(3); "
        f"in {per_cent(quick)} of the draws these travel that fast. Here they are down."
    ]


def landing_climb(store: Store, slug: str | None) -> dict[str, Any]:
    """Return the climb with full power, gear down and full flap at maximum weight; see docs/json.md.

    Raises:
        NotFoundError: there is no such study, or its reduction is missing or out of date.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        place, mark = (str(store.place.database), study.slug), change_mark(view, study.id)
        known = _WORKED.get(place)
        if known is not None and known[0] == mark:
            return known[1]
        beliefs = study_airplane(view, study.id).beliefs
        rows = airplane_rows(kept_reduction(view, study).draws or b"")[:DRAWS]
    mass, flap = beliefs.limits.max_mass_kg, beliefs.settings[-1]
    found = [balked_landing(row, mass, flap.angle_rad, SPEED_FACTOR) for row in rows]
    gradients = np.array([one[0].gradient for one in found])
    rates = np.array([one[0].climb_rate_mps for one in found]) / FOOT_PER_MINUTE
    asked: list[dict[str, Any]] = [
        {
            "source": one.requirement.source,
            "asked_percent": number(100.0 * one.requirement.gradient),
            "share_above": number(float(np.mean(gradients >= one.requirement.gradient))),
        }
        for one in found[0]
    ]
    middle, ends = 100.0 * float(quantile(gradients, 0.5)), [100.0 * x for x in interval(gradients, 0.95)]
    gear = ", gear down" if beliefs.retractable else ""
    body: dict[str, Any] = {
        "sentence": (
            f"With full power{gear} and flaps {flap.name} at {mass / POUND:,.0f} lb and {SPEED_FACTOR:g} times the "
            f"stall speed it climbs {middle:.1f} % (95 %: {ends[0]:.1f} to {ends[1]:.1f} %)."
        ),
        "against": [
            f"{one['asked_percent']:g} % is asked by {one['source']}; {per_cent(one['share_above'])} of the draws are "
            "above it."
            for one in asked
        ]
        + _quick_flaps(rows),
        "caution": CAUTION,
        "gradient_percent": {"median": number(middle), "interval_95": numbers(ends)},
        "climb_rate": {
            "median": number(float(quantile(rates, 0.5))),
            "interval_95": numbers(interval(rates, 0.95)),
            "unit": "ft/min",
        },
        "requirements": asked,
        "weight": {"value": number(mass / POUND), "unit": "lb"},
        "flaps": flap.name,
        "draws": len(rows),
    }
    if len(_WORKED) >= _MOST_WORKED:
        _WORKED.clear()
    _WORKED[place] = (mark, body)
    return body
