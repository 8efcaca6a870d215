"""What stalls say: stall speeds and lift of the fitted airplane, warning, and what power takes off the speed."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.vector import FloatArray
from wringout.airspeed import calibrated_from_equivalent
from wringout.estimate.findings import Evidence, Finding, stall_speeds, summarise
from wringout.estimate.problem import StudyRun
from wringout.methods.types import HandResult
from wringout.propagation import Measured, propagate
from wringout.units import DEGREE, KNOT

STALLS = "stall series"

ByHand = tuple[str, HandResult]
"""A run's key and one of its closed-form answers."""


def stall_findings(evidence: Evidence, prior: FloatArray, runs: Sequence[StudyRun]) -> list[Finding]:
    """Return stall speed and CLmax of every setting stalled, margins of warning, and stall speeds power on less off.

    Args:
        evidence: the joint fit and its draws.
        prior: rows drawn from what was believed before the runs, (draws, parameters).
        runs: all runs of the study.
    """
    beliefs = evidence.joint.problem.beliefs
    by_hand = [
        (r.run.key, result) for r in runs if r.method.key == STALLS for result in r.method.by_hand(r.run, beliefs)
    ]
    return [
        *_lift_findings(evidence, prior, runs),
        *[_warning(key, result) for key, result in by_hand if result.key.startswith("warning margin")],
        *_power_findings(by_hand, beliefs),
    ]


def _lift_findings(evidence: Evidence, prior: FloatArray, runs: Sequence[StudyRun]) -> list[Finding]:
    """Return stall speed at maximum mass and CLmax of every flap setting that was stalled."""
    beliefs = evidence.joint.problem.beliefs
    flown = [r.run for r in runs if r.method.key == STALLS and not r.run.extras.power_words]
    mass = beliefs.limits.max_mass_kg
    out = []
    for i, setting in enumerate(beliefs.settings):
        names = tuple(r.key for r in flown if np.any(np.abs(r.flap_rad - setting.angle_rad) < 0.5 * DEGREE))
        if not names:
            continue
        now = calibrated_from_equivalent(stall_speeds(evidence.posterior.rows, mass, setting.angle_rad), 0.0)
        before = calibrated_from_equivalent(stall_speeds(prior, mass, setting.angle_rad), 0.0)
        title = f"stall speed, flaps {setting.name}, power off"
        out.append(summarise(f"stall.{setting.name}", title, "kt", now, evidence, names, before, None, mass))
        lift = evidence.posterior.rows[:, v.CL_MAXES + i]
        title = f"CLmax, flaps {setting.name}"
        out.append(summarise(f"cl_max.{setting.name}", title, "", lift, evidence, names, prior[:, v.CL_MAXES + i]))
    return out


def _warning(run: str, result: HandResult) -> Finding:
    """Return how far before the stall the warning came; read as such, no part of the fitted airplane."""
    title = f"{result.title[0].lower()}{result.title[1:]}, run {run}"
    return _as_read(f"{result.key.replace(' margin, ', '.')}.{run}", title, result.value, (run,))


def _power_findings(by_hand: Sequence[ByHand], beliefs: Beliefs) -> list[Finding]:
    """Return by how much power changes the stall speed of each setting that was stalled with it and without.

    Both speeds are calibrated ones brought to maximum weight and 1 kt/s. What they share (weight, indicator) is counted
    in both, so the interval is rather too wide than too narrow.
    """
    out = []
    for setting in beliefs.settings:
        key = f"stall speed, {setting.name}"
        off = [(run, result.value) for run, result in by_hand if result.key == key]
        for run, result in by_hand:
            if result.key != f"{key}, power on" or not off:
                continue
            least = _mean([value for _, value in off])
            change = propagate(
                lambda on, off: on - off,
                {
                    "on": (result.value.value, result.value.standard_uncertainty),
                    "off": (least.value, least.standard_uncertainty),
                },
                "kt",
                degrees_of_freedom={"on": result.value.dof, "off": least.dof},
            )
            power = result.title.rpartition("power ")[2]
            title = f"stall speed, flaps {setting.name}, power {power} less power off"
            out.append(_as_read(f"power.{setting.name}.{run}", title, change, (run, *(name for name, _ in off))))
    return out


def _mean(values: Sequence[Measured]) -> Measured:
    """Return the mean of several runs' values; one value stays what it is."""
    if len(values) == 1:
        return values[0]
    sd = math.sqrt(sum(value.standard_uncertainty**2 for value in values)) / len(values)
    return Measured(
        sum(value.value for value in values) / len(values), sd, "kt", {}, min(value.dof for value in values)
    )


def _as_read(key: str, title: str, value: Measured, runs: tuple[str, ...]) -> Finding:
    """Return a finding that readings give without the fitted airplane, in SI from knots."""
    half, most = (tuple(edge * KNOT for edge in value.interval(coverage)) for coverage in (0.5, 0.95))
    return Finding(
        key, title, "kt", value.value * KNOT, (half[0], half[1]), (most[0], most[1]), None, None, None, runs,
        {"readings": 1.0},
    )  # fmt: skip
