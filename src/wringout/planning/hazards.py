"""Hazards of a test flight: likelihood by severity, before and after mitigation, and a starter list for each method.

The words and the matrix are those of MIL-STD-882E, tables I to III (from memory, not re-read); test cards with hazard,
cause, effect, mitigation and residual risk are the published practice of test risk management (FAA Order 4040.26 on
aircraft certification flight test risk, FAA AC 90-89 for amateur-built airplanes; from memory). The assessments in the
starter list are judged, no source: they are there to be corrected by the instructor or test pilot.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum
from typing import Final

from wringout.planning.document import HazardSection
from wringout.planning.hazard_list import STARTERS


class Risk(StrEnum):
    """The four levels of MIL-STD-882E, table III."""

    HIGH = "high"
    SERIOUS = "serious"
    MEDIUM = "medium"
    LOW = "low"


LIKELIHOODS: Final = ("frequent", "probable", "occasional", "remote", "improbable")
SEVERITIES: Final = ("catastrophic", "critical", "marginal", "negligible")
SOURCE: Final = "MIL-STD-882E, tables I to III, from memory"
MATRIX: Final[Mapping[str, tuple[Risk, Risk, Risk, Risk]]] = {
    "frequent": (Risk.HIGH, Risk.HIGH, Risk.SERIOUS, Risk.MEDIUM),
    "probable": (Risk.HIGH, Risk.HIGH, Risk.SERIOUS, Risk.MEDIUM),
    "occasional": (Risk.HIGH, Risk.SERIOUS, Risk.MEDIUM, Risk.LOW),
    "remote": (Risk.SERIOUS, Risk.MEDIUM, Risk.MEDIUM, Risk.LOW),
    "improbable": (Risk.MEDIUM, Risk.MEDIUM, Risk.MEDIUM, Risk.LOW),
}
"""Rows by likelihood, columns by severity in the order of SEVERITIES."""


def risk_of(likelihood: str, severity: str) -> Risk:
    """Return the level of risk of a likelihood and a severity; raises KeyError or ValueError for unknown words."""
    return MATRIX[likelihood][SEVERITIES.index(severity)]


def initial_risk(hazard: HazardSection) -> Risk:
    """Return the risk before mitigation."""
    return risk_of(hazard.likelihood, hazard.severity)


def residual_risk(hazard: HazardSection) -> Risk:
    """Return the risk that is left after mitigation."""
    return risk_of(hazard.residual_likelihood, hazard.residual_severity)


_ORDER = (Risk.HIGH, Risk.SERIOUS, Risk.MEDIUM, Risk.LOW)


def worst_first(hazards: Iterable[HazardSection]) -> list[HazardSection]:
    """Return hazards ordered by residual, then initial risk, worst first; else as they stood."""
    return sorted(hazards, key=lambda h: (_ORDER.index(residual_risk(h)), _ORDER.index(initial_risk(h))))


def hazards_for(hazards: Iterable[HazardSection], method_key: str) -> list[HazardSection]:
    """Return the hazards of a method and those of every flight, in their order."""
    return [h for h in hazards if not h.methods or method_key in h.methods]


def starter_hazards(method_keys: Sequence[str]) -> tuple[HazardSection, ...]:
    """Return the starter list for a flight that uses these methods: theirs and those of every flight."""
    wanted = set(method_keys)
    return tuple(h for h in STARTERS if not h.methods or wanted & set(h.methods))


def needs_more(hazard: HazardSection) -> str:
    """Return what is wrong with an assessment: residual risk high, or above what it was; "" where nothing is."""
    before, after = initial_risk(hazard), residual_risk(hazard)
    if _ORDER.index(after) < _ORDER.index(before):
        return f"the residual risk ({after}) is above the risk before mitigation ({before})"
    if after is Risk.HIGH:
        return "the residual risk is high: change the test or leave it out"
    if after is not Risk.LOW and not hazard.mitigation:
        return "no mitigation is written down"
    return ""


GO_NO_GO: Final = (
    "A qualified instructor or test pilot is on board, current on type and in what the cards ask for",
    "A second person reads, writes and keeps a look-out; seats, harnesses and headsets checked",
    "The airplane's approved manual is on board; its limits are on the cards and agree with the placards",
    "Airworthiness and maintenance release checked; no open defect of gear, flaps, airspeed system or engine",
    "Weight and centre of gravity inside the envelope at take-off and at landing",
    "Weather: day VMC, visibility and cloud as regulation and instructor ask; no turbulence or icing forecast",
    "Area: clear of controlled airspace or cleared, away from built-up areas, forced-landing fields in reach",
    "Fuel for all points with the legal reserve and the plan's own",
    "Crew fit, rested, briefed on the cards, the stop calls, who flies, and the recovery of each point",
    "Anybody may call STOP; after it the airplane is flown, and the point is over",
)
"""A starter go/no-go list (common practice, no source), to be edited."""
