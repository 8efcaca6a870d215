"""Every run with its fit, and the strengths of evidence side by side with why they differ."""

from __future__ import annotations

from wringout.briefs.document import (
    Block,
    Column,
    Drawing,
    Heading,
    Items,
    Line,
    Paragraph,
    Row,
    Section,
    Table,
    Words,
    line,
)
from wringout.briefs.evidence import Evidence, RunEvidence, finding_anchor
from wringout.briefs.figures.areas import ForestRow, caption_of_weights, forest_figure
from wringout.briefs.figures.run_fit import run_figure
from wringout.briefs.numbers import NO_BREAK, count, number, places_for
from wringout.briefs.story.notes import note_of_runs
from wringout.methods.types import HandResult
from wringout.units import find_unit

_SPAN = 1.96


def runs(evidence: Evidence) -> Section:
    """Return every run: its figure, its strengths of evidence, and what was flagged."""
    blocks: list[Block] = []
    forest = _forest(evidence)
    if forest is not None:
        blocks += forest
    for run in evidence.runs.values():
        blocks += _run(evidence, run)
    return Section("runs", "The runs", tuple(blocks), new_page=True)


def _run(evidence: Evidence, run: RunEvidence) -> list[Block]:
    rests = [f for f in evidence.content.reduction.findings if run.key in f.runs]
    back: list[Words] = []
    for finding in rests[:6]:
        back += [Words(", ") if back else Words("Feeds "), Words(finding.label, "number", finding_anchor(finding.key))]
    if len(rests) > 6:
        back.append(Words(f" and {count(len(rests) - 6, 'more')}"))
    source = line(Words(run.report.source.recording, "user"))
    rows = line(Words(f"{count(run.fit.observed.size, 'reading')} in the tables", "number", run.rows_anchor), ".")
    note = note_of_runs((run,), source, rows, tuple([*back, Words(".")]) if back else ())
    blocks: list[Block] = [
        Heading(line(Words(run.key, "strong"), f"  {run.title}"), run.anchor),
        Drawing(run.anchor, run_figure(evidence, run), _spoken(evidence, run), _caption(run), note),
    ]
    if run.report.results:
        blocks.append(_strengths(evidence, run))
        blocks.append(Paragraph(line(run.report.why_they_differ), "small"))
    flagged = _flags(evidence, run)
    if flagged:
        blocks.append(Items(tuple(flagged)))
    return blocks


def _caption(run: RunEvidence) -> Line:
    if run.report.curve is None:
        return line("Circles: what was read. Dashes: what the fitted airplane would have shown.")
    return line(
        "Circles: what was read. Line: the joint fit through this run. Below: what the fit leaves over, and in the pale "
        "band twice the noise of a reading."
    )


def _spoken(evidence: Evidence, run: RunEvidence) -> str:
    scale = evidence.scale(run.method.observed_unit)
    first, last = run.fit.observed[0] / scale.size, run.fit.observed[-1] / scale.size
    return (
        f"Run {run.key}, {run.title}: {run.fit.observed.size} readings from {number(first, 1)} to {number(last, 1)} "
        f"{scale.symbol} with the fitted airplane's values."
    )


def _strengths(evidence: Evidence, run: RunEvidence) -> Table:
    columns = (
        Column("Evidence"),
        Column("Value", number=True),
        Column("95 %", number=True),
        Column("At", number=True),
        Column("What it is"),
    )
    rows = []
    for result in run.report.results:
        value, interval = _value_words(evidence, result)
        at = ""
        if result.speed_mps == result.speed_mps:
            at = f"{evidence.stated(result.speed_mps, 'kt')} true"
        rows.append(
            Row((line(result.title), line(value), line(interval), line(at), line(Words(result.sentence, "quiet"))))
        )
    return Table(columns, tuple(rows))


def _value_words(evidence: Evidence, result: HandResult) -> tuple[str, str]:
    """Return a closed-form result's value and 95 % interval, converted to the brief's units."""
    unit = find_unit(result.value.unit) if result.value.unit not in ("", "%") else None
    factor, scale = (
        (1.0, evidence.scale(result.value.unit)) if unit is None else (unit.factor, evidence.scale(result.value.unit))
    )
    value = result.value.value * factor / scale.size
    sd = result.value.standard_uncertainty * factor / scale.size
    places = max(places_for(sd), 0)
    symbol = f"{NO_BREAK}{scale.symbol}" if scale.symbol else ""
    return (
        f"{number(value, places)}{symbol}",
        f"{number(value - _SPAN * sd, places)} to {number(value + _SPAN * sd, places)}",
    )


def _flags(evidence: Evidence, run: RunEvidence) -> list[Line]:
    scale = evidence.scale(run.method.observed_unit)
    out = []
    for flag in run.flags:
        observed = f"{number(flag.observed / scale.size, 0)}{NO_BREAK}{scale.symbol}"
        expected = f"{number((flag.observed - flag.deviation) / scale.size, 0)}{NO_BREAK}{scale.symbol}"
        out.append(
            line(
                Words(f"Row {flag.row}", "number", run.row_anchor(flag.index)),
                f" reads {observed} where the curve has {expected}: {abs(flag.sds):.0f} standard deviations off. It is "
                "kept and shown, and given almost no weight.",
            )
        )
    return out + [line(exceedance.sentence()) for exceedance in run.report.exceedances]


def _forest(evidence: Evidence) -> list[Block] | None:
    """Return each device's area by kind of evidence and run, and the knots lost apart."""
    rows: list[ForestRow] = []
    devices: list[str] = []
    lost: list[ForestRow] = []
    lost_devices: list[str] = []
    for curve in evidence.content.reduction.curves:
        joint = evidence.finding(f"area.{curve.device}.middle")
        if joint is None:
            continue
        at = f"{evidence.stated(joint.at_speed_mps, 'kt')}" if joint.at_speed_mps else ""
        rows.append(
            ForestRow(f"{curve.label}, all runs", at, joint.value, joint.half, joint.most, True, joint.prior_most)
        )
        devices.append(curve.device)
        for run in evidence.of(curve.runs):
            for result in run.report.results:
                row = _forest_row(evidence, run, result)
                if row is not None and result.is_drag:
                    rows.append(row)
                    devices.append(curve.device)
                elif row is not None and result.key == "knots lost":
                    lost.append(row)
                    lost_devices.append(curve.device)
    if not rows:
        return None
    caption = line(
        f"Drag area by kind of evidence and run, each at its own speed (indicated, right of the name). Diamond: all runs together. {caption_of_weights()}"
    )
    out: list[Block] = [
        Drawing(
            "forest",
            forest_figure(evidence, "forest", rows, "ft2", "drag area added", devices),
            "Drag area of each device by kind of evidence and run, with intervals.",
            caption,
        )
    ]
    if lost:
        out.append(
            Drawing(
                "lost",
                forest_figure(evidence, "lost", lost, "kt", "speed lost, indicated (not a drag)", lost_devices),
                "Knots lost in each run, with intervals.",
                line("Knots lost, kept apart because they are not a drag."),
            )
        )
    return out


_SHORT = {"whole curve": "whole curve", "start slope": "start slope", "settled speeds": "settled speeds"}


def _forest_row(evidence: Evidence, run: RunEvidence, result: HandResult) -> ForestRow | None:
    unit = find_unit(result.value.unit)
    if unit is None or result.key not in (*_SHORT, "knots lost"):
        return None
    value, sd = result.value.value * unit.factor, result.value.standard_uncertainty * unit.factor
    at = evidence.stated(result.speed_mps, "kt") if result.speed_mps == result.speed_mps else ""
    label = f"{run.key}  {_SHORT.get(result.key, run.title)}"
    return ForestRow(
        label, at, value, (value - 0.674 * sd, value + 0.674 * sd), (value - _SPAN * sd, value + _SPAN * sd)
    )
