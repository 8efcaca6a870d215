"""Each device's area by kind of evidence and run, and the knots lost apart from them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wringout.briefs.catalogue import marked, said, tr
from wringout.briefs.document import Block, Drawing, Line
from wringout.briefs.evidence import Evidence, RunEvidence, slug
from wringout.briefs.figures.areas import ForestRow, caption_of_weights, forest_figure
from wringout.methods.types import HandResult
from wringout.units import find_unit

_LONGEST = 36
_SHORT = {one: one for one in (marked("whole curve"), marked("start slope"), marked("settled speeds"))}


def forests(evidence: Evidence) -> list[Block]:
    """Return the forest of areas, one figure or, when long, one for each device, and the knots lost."""
    groups: list[list[ForestRow]] = []
    lost: list[ForestRow] = []
    for curve in evidence.content.reduction.curves:
        joint = evidence.finding(f"area.{curve.device}.middle")
        if joint is None:
            continue
        at = evidence.stated(joint.at_speed_mps, "kt") if joint.at_speed_mps is not None else ""
        name = tr("{label}, all runs", label=curve.label)
        rows = [ForestRow(name, at, joint.value, joint.half, joint.most, curve.device, True, joint.prior_most)]
        for run in evidence.of(curve.runs):
            for result in run.report.results:
                row = _row(evidence, run, result, curve.device)
                if row is not None:
                    (rows if result.is_drag else lost).append(row)
        groups.append(rows)
    if not groups:
        return []
    if sum(map(len, groups)) <= _LONGEST:
        groups = [[row for rows in groups for row in rows]]
    return [*_areas(evidence, groups), *_lost(evidence, lost)]


def _areas(evidence: Evidence, groups: Sequence[Sequence[ForestRow]]) -> list[Block]:
    out: list[Block] = []
    for rows in groups:
        for first in range(0, len(rows), _LONGEST):
            part = rows[first : first + _LONGEST]
            name = f"forest-{slug(part[0].device)}-{first}" if len(groups) > 1 else f"forest-{first}"
            svg = forest_figure(evidence, name, part, "ft2", tr("drag area added"))
            spoken = tr("Drag area of each device by kind of evidence and run, with intervals.")
            out.append(Drawing(name, svg, spoken, _caption() if not out else (), floats=True))
    return out


def _caption() -> Line:
    return said(
        "Drag area by kind of evidence and run. Diamonds: the joint fit of all runs, at calibrated airspeed. Circles: "
        "one run by itself, at true airspeed. {weights} Pale bar: what was believed before the runs.",
        weights=caption_of_weights(),
    )


def _lost(evidence: Evidence, rows: Sequence[ForestRow]) -> list[Block]:
    out: list[Block] = []
    for first in range(0, len(rows), _LONGEST):
        part = rows[first : first + _LONGEST]
        svg = forest_figure(evidence, f"lost-{first}", part, "kt", tr("indicated speed lost (not a drag)"))
        caption = said("Knots lost, apart from the drag areas because they are not a drag.")
        out.append(Drawing(f"lost-{first}", svg, tr("Knots lost in each run, with intervals; not a drag."), caption))
    return out


def _row(evidence: Evidence, run: RunEvidence, result: HandResult, device: str) -> ForestRow | None:
    unit = find_unit(result.value.unit)
    if unit is None or result.key not in (*_SHORT, "knots lost"):
        return None
    (low, high), (least, greatest) = result.value.interval(0.5), result.value.interval(0.95)
    half, most = (low * unit.factor, high * unit.factor), (least * unit.factor, greatest * unit.factor)
    at = "" if math.isnan(result.speed_mps) else evidence.stated(result.speed_mps, "kt")
    label = f"{run.key}  {tr(_SHORT[result.key]) if result.key in _SHORT else run.title}"
    return ForestRow(label, at, result.value.value * unit.factor, half, most, device)
