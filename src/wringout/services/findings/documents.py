"""A reduction as the JSON document that is kept: every number with its unit, in the units of the trade.

The shape is described in docs/json.md; its ``format`` is raised when the meaning of a field changes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from wringout.airplane.beliefs import Beliefs
from wringout.estimate.findings import DragCurve, Finding
from wringout.estimate.fit import Flag, RunFit
from wringout.estimate.posterior import Learned
from wringout.estimate.problem import StudyRun
from wringout.estimate.reduction import Reduction
from wringout.estimate.strengths import RunReport
from wringout.methods.types import HandResult
from wringout.services.findings.answers import KnotsLost, knots_lost, reduction_sentences
from wringout.services.findings.diagnostics import diagnostics_document
from wringout.services.flights.documents import exceedance_document
from wringout.services.kept_numbers import number, numbers, shown
from wringout.units import KNOT, SQUARE_FOOT, find_unit

FORMAT = "wringout reduction, version 1"
Json = dict[str, Any]


def reduction_document(reduction: Reduction, runs: Sequence[StudyRun]) -> Json:
    """Return the whole reduction as one document.

    Args:
        reduction: as ``estimate.reduction.reduce_runs`` returned it.
        runs: the runs it was made from, in the same order.
    """
    said = reduction_sentences(reduction)
    return {
        "format": FORMAT,
        "answer": said.answer,
        "support": list(said.support),
        "learned": said.learned,
        "airplane": airplane_document(reduction.beliefs),
        "weight": {"value": shown(reduction.mass_kg, "lb"), "unit": "lb"},
        "findings": [finding_document(finding) for finding in reduction.findings],
        "knots_lost": [knots_document(item) for item in knots_lost(reduction)],
        "curves": [curve_document(curve) for curve in reduction.curves],
        "parameters": [learned_document(item) for item in reduction.learned],
        "runs": [
            run_document(item, report, fitted, reduction.flags)
            for item, report, fitted in zip(runs, reduction.reports, reduction.joint.runs, strict=True)
        ],
        "settled": reduction.joint.settled,
        "remarks": list(reduction.remarks),
        "flags": [flag_document(flag, _unit_of(flag.run, runs)) for flag in reduction.flags],
        "exceedances": [exceedance_document(key, found) for key, found in reduction.exceedances],
        "diagnostics": diagnostics_document(reduction),
        "noise_factors": {key: number(value) for key, value in sorted(reduction.joint.noise_factor.items())},
    }


def airplane_document(beliefs: Beliefs) -> Json:
    """Return what identifies the airplane."""
    settings = [{"name": s.name, "angle": shown(s.angle_rad, "deg"), "unit": "deg"} for s in beliefs.settings]
    return {
        "name": beliefs.name,
        "invented": beliefs.invented,
        "max_weight": {"value": shown(beliefs.limits.max_mass_kg, "lb"), "unit": "lb"},
        "flap_settings": settings,
    }


def _quantity(value_si: float | None, unit: str) -> Json | None:
    return None if value_si is None else {"value": shown(value_si, unit), "unit": unit}


def finding_document(finding: Finding) -> Json:
    """Return one finding; ``unit`` is "" for a plain ratio."""
    unit = finding.unit
    prior = finding.prior_most
    return {
        "key": finding.key,
        "label": finding.label,
        "unit": unit,
        "value": shown(finding.value, unit),
        "interval_50": [shown(x, unit) for x in finding.half],
        "interval_95": [shown(x, unit) for x in finding.most],
        "prior_interval_95": None if prior is None else [shown(x, unit) for x in prior],
        "at_speed": _quantity(finding.at_speed_mps, "kt"),
        "at_weight": _quantity(finding.at_mass_kg, "lb"),
        "runs": list(finding.runs),
        "share_of_variance": {name: number(share) for name, share in finding.shares.items()},
    }


def knots_document(lost: KnotsLost) -> Json:
    """Return the mean knots lost in the runs of one device; not a drag."""
    return {
        "label": lost.label,
        "is_drag": False,
        "value": number(lost.mean.value),
        "standard_uncertainty": number(lost.mean.standard_uncertainty),
        "unit": "kt",
        "runs": list(lost.runs),
    }


def curve_document(curve: DragCurve) -> Json:
    """Return a device's drag area over calibrated airspeed."""
    return {
        "device": curve.device,
        "label": curve.label,
        "speed_unit": "kt",
        "area_unit": "ft2",
        "speed": numbers(curve.speed_mps / KNOT),
        "median": numbers(curve.median / SQUARE_FOOT),
        "interval_50": [numbers(curve.half_low / SQUARE_FOOT), numbers(curve.half_high / SQUARE_FOOT)],
        "interval_95": [numbers(curve.most_low / SQUARE_FOOT), numbers(curve.most_high / SQUARE_FOOT)],
        "weight": {"value": shown(curve.mass_kg, "lb"), "unit": "lb"},
        "runs": list(curve.runs),
    }


def learned_document(item: Learned) -> Json:
    """Return what the runs taught about one parameter; ``interval_95`` are medians with 95 % limits around."""
    before = [shown(x, item.unit) for x in item.prior]
    after = [shown(x, item.unit) for x in item.posterior]
    return {
        "key": item.key,
        "label": item.label,
        "unit": item.unit,
        "prior": {"value": before[1], "interval_95": [before[0], before[2]]},
        "posterior": {"value": after[1], "interval_95": [after[0], after[2]]},
        "contraction": number(item.contraction),
        "shift": number(item.shift),
        "verdict": item.verdict,
        "prior_source": item.source,
    }


def run_document(item: StudyRun, report: RunReport, fitted: RunFit, flags: Sequence[Flag]) -> Json:
    """Return one run: its readings with source rows, the fit through them, and every strength of evidence."""
    unit = item.method.observed_unit
    return {
        "key": report.key,
        "title": report.title,
        "method": report.method,
        "recording": {"name": report.source.recording, "sha256": report.source.sha256},
        "from_s": None if report.source.from_s is None else number(report.source.from_s),
        "to_s": None if report.source.to_s is None else number(report.source.to_s),
        "conditions": _conditions(item.run),
        "observed_unit": unit,
        "rows": [int(row) for row in item.run.rows],
        "time_s": numbers(item.run.time_s) if hasattr(item.run, "time_s") else None,
        "observed": [shown(x, unit) for x in fitted.observed],
        "fitted": [shown(x, unit) for x in fitted.predicted],
        "reading_sd": [number(float(x) / from_unit(unit)) for x in fitted.sd],
        "flagged_rows": [flag.row for flag in flags if flag.run == report.key],
        "results": [hand_document(result) for result in report.results],
        "why_they_differ": report.why_they_differ,
        "exceedances": [exceedance_document(report.key, found) for found in report.exceedances],
    }


def from_unit(unit: str) -> float:
    """Return the SI size of one display unit of a difference."""
    found = find_unit(unit) if unit else None
    return 1.0 if found is None else found.factor


def _conditions(run: Any) -> Json | None:
    air = getattr(run, "conditions", None)
    if air is None:
        return None
    return {
        "pressure_altitude": {"value": shown(air.pressure_altitude_m, "ft"), "unit": "ft"},
        "isa_deviation": {"value": number(air.isa_deviation_k), "unit": "°C"},
        "weight": {"value": shown(air.mass_kg, "lb"), "unit": "lb"},
        "altitude_held_within": {"value": shown(air.altitude_band_m, "ft"), "unit": "ft"},
    }


def hand_document(result: HandResult) -> Json:
    """Return one strength of evidence of a run; "knots lost" carries ``is_drag`` false."""
    measured = result.value
    low, high = measured.interval(0.95)
    near, far = measured.interval(0.5)
    return {
        "key": result.key,
        "title": result.title,
        "strength": result.strength,
        "is_drag": result.is_drag,
        "unit": measured.unit,
        "value": number(measured.value),
        "standard_uncertainty": number(measured.standard_uncertainty),
        "interval_50": [number(near), number(far)],
        "interval_95": [number(low), number(high)],
        "at_true_airspeed": None if math.isnan(result.speed_mps) else _quantity(result.speed_mps, "kt"),
        "budget": {name: number(part) for name, part in measured.budget.items()},
        "sentence": result.sentence,
    }


def flag_document(flag: Flag, unit: str) -> Json:
    """Return a reading that does not belong to its curve: kept, shown, given almost no weight."""
    return {
        "run": flag.run,
        "row": flag.row,
        "unit": unit,
        "observed": shown(flag.observed, unit),
        "deviation": number(flag.deviation / from_unit(unit)),
        "standard_deviations": number(flag.sds),
    }


def _unit_of(key: str, runs: Sequence[StudyRun]) -> str:
    return next(item.method.observed_unit for item in runs if item.run.key == key)


def still_prior(parameters: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return the labels of the parameters that the runs taught nothing about."""
    return [str(item["label"]) for item in parameters if item["verdict"] == "still the prior"]
