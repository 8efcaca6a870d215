"""Findings of one type of airplane pooled: an answer in a sentence, and what forest and funnel plots are drawn from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wringout.errors import BadInputError, FitError, NotFoundError
from wringout.fleet.bias import Egger, egger
from wringout.fleet.pooling import Estimator as Estimator
from wringout.fleet.pooling import Pooled, pool, weighted_mean
from wringout.fleet.scatter import Scatter, scatter
from wringout.rounding import round_with_uncertainty
from wringout.services.fleet.findings import FleetFinding, list_findings, quantities
from wringout.services.kept_numbers import number, numbers
from wringout.store import Store

Json = dict[str, Any]
SPEED_SPREAD_KT = 5.0
"""Findings at speeds further apart than this are remarked on (judged, no source)."""
_PRINTED = {"ft2": "ft²", "": ""}


@dataclass(frozen=True, slots=True)
class PooledFinding:
    """A pooled finding of a type.

    Attributes:
        quantity, label, unit, model: what it is of.
        airplanes: their names, in the order of ``pooled.shrunk``.
        values, uncertainties: one for each airplane, findings of one airplane taken together.
        findings: every finding that went in.
        pooled, scatter, egger: see `wringout.fleet`.
        answer: in a sentence. remarks: what to keep in mind.
    """

    quantity: str
    label: str
    unit: str
    model: str
    airplanes: tuple[str, ...]
    values: tuple[float, ...]
    uncertainties: tuple[float, ...]
    findings: tuple[FleetFinding, ...]
    pooled: Pooled
    scatter: Scatter
    egger: Egger | None
    answer: str
    remarks: tuple[str, ...]


def pool_findings(
    store: Store, model: str, quantity: str, estimator: Estimator = Estimator.REML, family: str = ""
) -> PooledFinding:
    """Pool one quantity over the airplanes of a model, of one family where named.

    Raises:
        BadInputError: the findings are in different units.
        NotFoundError: the library has no such finding.
        FitError: only one airplane has one.
    """
    found = list_findings(store, model, quantity, family)
    if not found:
        known = "; ".join(f"{m}: {q}" for m, q, _, _ in quantities(store)[:6])
        raise NotFoundError(
            f"the library has no finding {quantity[:60]!r} of {model[:60]!r}",
            advice=f"it has {known}" if known else "collect findings first",
        )
    units = {f.unit for f in found}
    if len(units) > 1:
        raise BadInputError(f"findings are in {' and '.join(sorted(units))}", quantity, "collect them in one unit")
    return pooled_finding(found, estimator)


def pooled_finding(found: Sequence[FleetFinding], estimator: Estimator = Estimator.REML) -> PooledFinding:
    """Pool findings of one quantity and unit.

    Raises:
        FitError: they are of one airplane only.
    """
    names = tuple(dict.fromkeys(f.airplane for f in found))
    if len(names) < 2:
        raise FitError(
            f"all findings of {found[0].label} are of one airplane", "", "collect those of at least one more airplane"
        )
    values, doubts = _by_airplane(found, names)
    whole = pool(values, doubts, estimator)
    spread = scatter(
        [f.value for f in found],
        [f.standard_uncertainty for f in found],
        [f.airplane for f in found],
        [f.pilot for f in found],
    )
    funnel = egger(values, doubts, "airplanes")
    first = found[0]
    return PooledFinding(
        quantity=first.quantity,
        label=first.label,
        unit=first.unit,
        model=first.model,
        airplanes=names,
        values=tuple(values),
        uncertainties=tuple(doubts),
        findings=tuple(found),
        pooled=whole,
        scatter=spread,
        egger=funnel,
        answer=_answer(first, whole),
        remarks=tuple(_remarks(found, names, whole, spread, funnel)),
    )


def _by_airplane(found: Sequence[FleetFinding], names: Sequence[str]) -> tuple[list[float], list[float]]:
    """Return one value and uncertainty for each airplane.

    Findings of one airplane share its drag but also scatter from pilot to pilot and day to day; where they disagree by
    more than their uncertainties say, that of their mean is widened by the square root of chi-square over its degrees
    of freedom (the scale factor of the Particle Data Group, Review of Particle Physics, section 5.2.2).
    """
    values, doubts = [], []
    for name in names:
        own = [f for f in found if f.airplane == name]
        y = np.array([f.value for f in own])
        mean, se, weights = weighted_mean(y, np.array([f.standard_uncertainty**2 for f in own]))
        if len(own) > 1:
            chi2 = float((weights * (y - mean) ** 2).sum())
            se *= math.sqrt(max(1.0, chi2 / (len(own) - 1)))
        values.append(mean)
        doubts.append(se)
    return values, doubts


def _rounded(values: Sequence[float], uncertainty: float) -> list[str]:
    return [round_with_uncertainty(value, uncertainty)[0] for value in values]


def _answer(first: FleetFinding, whole: Pooled) -> str:
    """Return the pooled finding in a sentence, with its interval, its count and where the next airplane is expected."""
    unit = f" {_PRINTED.get(first.unit, first.unit)}".rstrip()
    doubt = max((whole.interval_95[1] - whole.interval_95[0]) / 4.0, 1e-9 * max(abs(whole.mean), 1e-9))
    mean, low, high = _rounded([whole.mean, *whole.interval_95], doubt)
    said = (
        f"{first.model}, {first.label}: {mean}{unit} in the mean of {whole.count} airplanes "
        f"(95 %: {low} to {high}{unit})"
    )
    if whole.prediction_95 is None:
        return f"{said}; with two airplanes nothing can be said of the next one."
    near, far = _rounded(whole.prediction_95, doubt)
    return f"{said}; the next airplane of the type is expected between {near} and {far}{unit} (95 %)."


def _remarks(
    found: Sequence[FleetFinding], names: Sequence[str], whole: Pooled, spread: Scatter, funnel: Egger | None
) -> list[str]:
    said = []
    speeds = [f.at_speed_kt for f in found if f.at_speed_kt is not None]
    if speeds and max(speeds) - min(speeds) > SPEED_SPREAD_KT:
        said.append(
            f"The findings hold at {min(speeds):.0f} to {max(speeds):.0f} kt: part of their scatter is that of speed."
        )
    share = 100.0 * whole.i2
    if whole.tau2 > 0.0:
        said.append(
            f"About {share:.0f} % of the scatter is between airplanes, the rest is doubt of the findings (I²; with few "
            "airplanes this is itself uncertain)."
        )
    else:
        said.append("The findings scatter no more than their doubts explain: no difference between airplanes is seen.")
    off = [name for name, outlier in zip(names, whole.outliers, strict=False) if outlier.flagged]
    if off:
        said.append(
            f"{' and '.join(off)} {'lies' if len(off) == 1 else 'lie'} further off than the others predict; look at "
            "the airplane and at its runs before anything else is concluded."
        )
    said += spread.remarks
    low = whole.mean if whole.prediction_95 is None else whole.prediction_95[0]
    if low < 0.0 < min(f.value for f in found):
        said.append(
            "The range for the next airplane reaches below zero, where nothing can be: it is too wide to be of use."
        )
    if whole.count < 5:
        said.append(f"{whole.count} airplanes are few: the interval for the next one leans on the model of scatter.")
    said.append(funnel.sentence if funnel else "Whether findings were held back cannot be tested with so few.")
    if any(f.invented for f in found):
        said.append("Some of these findings are invented.")
    return said


def pooled_document(item: PooledFinding) -> Json:
    """Return a pooled finding with everything a forest plot and a funnel plot are drawn from."""
    whole, unit = item.pooled, item.unit
    return {
        "model": item.model,
        "quantity": item.quantity,
        "label": item.label,
        "unit": unit,
        "answer": item.answer,
        "remarks": list(item.remarks),
        "estimator": str(whole.estimator),
        "airplanes": whole.count,
        "findings": len(item.findings),
        "mean": number(whole.mean),
        "standard_uncertainty": number(whole.standard_uncertainty),
        "interval_95": numbers(whole.interval_95),
        "between_airplanes_sd": number(whole.tau),
        "prediction_95": None if whole.prediction_95 is None else numbers(whole.prediction_95),
        "q": {"value": number(whole.q), "degrees_of_freedom": whole.count - 1, "p": number(whole.q_p)},
        "i2": number(whole.i2),
        "if_all_were_alike": {
            "mean": number(whole.fixed_mean),
            "standard_uncertainty": number(whole.fixed_uncertainty),
        },
        "forest": _forest(item),
        "funnel": {
            "centre": number(whole.mean),
            "points": [
                {"airplane": n, "value": number(v), "standard_uncertainty": number(s)}
                for n, v, s in zip(item.airplanes, item.values, item.uncertainties, strict=True)
            ],
            "egger": None if item.egger is None else _egger(item.egger),
        },
        "scatter": _scatter(item.scatter),
        "invented": any(f.invented for f in item.findings),
    }


def _forest(item: PooledFinding) -> list[Json]:
    rows = []
    for i, name in enumerate(item.airplanes):
        value, doubt, shrunk = item.values[i], item.uncertainties[i], item.pooled.shrunk[i]
        off = item.pooled.outliers[i] if item.pooled.outliers else None
        rows.append(
            {
                "airplane": name,
                "findings": sum(f.airplane == name for f in item.findings),
                "value": number(value),
                "interval_95": numbers([value - 1.959964 * doubt, value + 1.959964 * doubt]),
                "weight": number(shrunk.weight),
                "shrunk": {
                    "value": number(shrunk.value),
                    "standard_uncertainty": number(shrunk.standard_uncertainty),
                    "kept": number(shrunk.kept),
                },
                "outlier": None if off is None else {"z": number(off.z), "p": number(off.p), "flagged": off.flagged},
            }
        )
    return rows


def _egger(found: Egger) -> Json:
    return {
        "intercept": number(found.intercept),
        "interval_95": numbers(found.interval_95),
        "t": number(found.t),
        "p": number(found.p),
        "enough": found.enough,
        "sentence": found.sentence,
    }


def _scatter(found: Scatter) -> Json:
    return {
        "mean": number(found.mean),
        "interval_95": numbers(found.interval_95),
        "prediction_95": None if found.prediction_95 is None else numbers(found.prediction_95),
        "components": [
            {"between": c.name, "levels": c.levels, "sd": number(c.sd), "p": number(c.p)} for c in found.components
        ],
        "effects": [
            {
                "of": e.name,
                "name": e.level,
                "value": number(e.value),
                "standard_uncertainty": number(e.standard_uncertainty),
            }
            for e in found.effects
            if e.name != "finding"
        ],
        "remarks": list(found.remarks),
    }
