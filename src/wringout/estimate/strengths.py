"""Every strength of evidence for one run, side by side, with a plain sentence on why they differ."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wringout.airplane.limits import Exceedance
from wringout.airspeed import calibrated_from_true, equivalent_from_calibrated
from wringout.estimate.findings import device_areas
from wringout.estimate.fit import JointFit, fit
from wringout.estimate.posterior import draw
from wringout.estimate.problem import StudyRun
from wringout.methods.types import FittedMethod, HandResult, Source, TimedMethod
from wringout.propagation import Measured
from wringout.recordings.types import Device
from wringout.units import SQUARE_FOOT

DRAWS_ALONE, DRAWS_TOGETHER = 800, 200
CURVE_POINTS = 120

Progress = Callable[[float, str], None]


@dataclass(frozen=True, slots=True)
class FittedCurve:
    """The joint fit's curve through one run: time (s) and the observed quantity, SI."""

    time_s: np.ndarray
    value: np.ndarray


@dataclass(frozen=True, slots=True)
class RunReport:
    """One run: what was flown, what each strength of evidence says of it, limits it went beyond, its fitted curve."""

    key: str
    title: str
    method: str
    source: Source
    results: tuple[HandResult, ...]
    why_they_differ: str
    exceedances: tuple[Exceedance, ...]
    curve: FittedCurve | None


def reports(joint: JointFit, runs: Sequence[StudyRun], progress: Progress) -> tuple[RunReport, ...]:
    """Return a report of every run."""
    out = []
    for i, r in enumerate(runs):
        progress(i / len(runs), f"run {r.run.key} by itself")
        results = list(r.method.by_hand(r.run, joint.problem.beliefs))
        curve = None
        if isinstance(r.method, FittedMethod):
            posterior = draw(joint, DRAWS_TOGETHER, 1)
            own = np.array([joint.problem.nuisance(z, i) for z in posterior.z])
            results += r.method.from_fit(r.run, posterior.rows, own, results)
        if isinstance(r.method, TimedMethod):
            results.insert(0, _whole_curve(joint, r, results))
            curve = _curve(joint, r, r.method, i)
        out.append(
            RunReport(
                r.run.key,
                r.run.title,
                r.method.key,
                r.run.source,
                tuple(sorted(results, key=lambda result: result.strength)),
                _why(results),
                tuple(r.method.exceedances(r.run, joint.problem.beliefs)),
                curve,
            )
        )
    return tuple(out)


Configuration = tuple[float, float]
"""Gear position, 0 to 1, and flap angle, rad."""


def _first_move(run: Any) -> tuple[Configuration, Configuration]:
    """Return the less and the more extended of the configurations before and after the run's first move."""
    before, move = (run.entry_gear, run.entry_flap_rad), run.moves[0]
    after = (move.to_position, before[1]) if move.device is Device.GEAR else (before[0], move.to_position)
    return (before, after) if move.to_position > move.from_position else (after, before)


def _whole_curve(joint: JointFit, r: StudyRun, by_hand: Sequence[HandResult]) -> HandResult:
    """Return the area of what the first move put out or took in, from the whole history of this run alone.

    It is the same quantity as the closed-form answers beside it: the difference between the configurations before and
    after that move, quoted at the speed of the first of them.
    """
    beliefs, run = joint.problem.beliefs, r.run
    alone = fit(beliefs, [r])
    air = run.conditions
    speeds = [result.speed_mps for result in by_hand if result.is_drag]
    true = speeds[0] if speeds else float(alone.runs[0].nuisance[0]) * 0.9
    calibrated = float(calibrated_from_true(true, air.pressure_altitude_m, air.isa_deviation_k))
    at = np.array([float(equivalent_from_calibrated(calibrated, air.pressure_altitude_m))])
    rows = draw(alone, DRAWS_ALONE, 1).rows
    less, more = (device_areas(rows, air.mass_kg, at, *configuration)[:, 0] for configuration in _first_move(run))
    values = (more - less) / SQUARE_FOOT
    return HandResult(
        "whole curve",
        "Whole curve, this run alone",
        3,
        True,
        Measured(float(np.median(values)), float(np.std(values)), "ft2"),
        true,
        "Every reading of this run through the equation of motion; works on runs that never settled, and carries the "
        "doubt of the propeller law, the clean drag, the weight and the clock.",
    )


def _curve(joint: JointFit, r: StudyRun, timed: TimedMethod, i: int) -> FittedCurve:
    """Return the joint fit's airspeed through the run, finely."""
    times = np.linspace(0.0, float(r.run.time_s[-1]), CURVE_POINTS)
    values = timed.curve(r.run, joint.row, joint.runs[i].nuisance, joint.problem.beliefs, times)
    return FittedCurve(times, values)


def _why(results: Sequence[HandResult]) -> str:
    """Say in one sentence why the strengths differ, or that they do not."""
    drags = [result for result in results if result.is_drag]
    if not drags:
        return "Each line stands for itself: they are different quantities, not rival answers to one."
    if len(drags) < 2:
        return "Only one kind of evidence could be had from this run."
    gaps = []
    for a in drags:
        for b in drags:
            if a.strength < b.strength:
                spread = float(np.hypot(a.value.standard_uncertainty, b.value.standard_uncertainty))
                gaps.append((abs(a.value.value - b.value.value) / max(spread, 1e-9), a, b))
    if not gaps:
        return "They are of one kind and strength."
    worst, a, b = max(gaps, key=lambda gap: gap[0])
    if worst < 1.0:
        return "They agree within their intervals."
    apart = f"{a.title.lower()} and {b.title.lower()} differ by {worst:.1f} combined standard uncertainties"
    if {"settled speeds", "start slope"} == {a.key, b.key} or abs(a.speed_mps - b.speed_mps) > 5.0:
        return (
            f"{apart[0].upper()}{apart[1:]}: they hold at different speeds, and the drag of a device may change with "
            "lift; the slower one also leans on how thrust grew."
        )
    return f"{apart[0].upper()}{apart[1:]}: the slope leans on few readings just after the device is out."
