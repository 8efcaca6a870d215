"""The findings: what each device costs, with intervals, over speed, and beside the knots that people quote."""

from __future__ import annotations

from wringout.briefs.catalogue import said, tr
from wringout.briefs.document import Block, Drawing, Paragraph, Section, line
from wringout.briefs.evidence import Evidence, finding_anchor
from wringout.briefs.figures.areas import ForestRow, caption_of_weights, curves_figure, forest_figure
from wringout.briefs.knots_lost import mean_over_runs, ratio_of_losses
from wringout.briefs.numbers import NO_BREAK, count, number, places_for
from wringout.briefs.story.notes import note_of, note_of_runs
from wringout.briefs.words import area_sentence, interaction_sentence, ratio_sentence
from wringout.estimate.findings import Finding
from wringout.methods.types import HandResult
from wringout.propagation import Measured


def device_of(finding: Finding) -> str:
    """Return the device in a finding's key, such as "flaps.full" from "area.flaps.full.middle"."""
    return finding.key.removeprefix("area.").rpartition(".")[0]


def findings(evidence: Evidence) -> Section:
    """Return what each device's drag is, with every interval."""
    areas = evidence.findings("area.")
    if not areas:
        missing = said("No run in use sends a device out from the clean airplane, so no drag area is stated.")
        return Section("findings", tr("Findings: drag"), (Paragraph(missing),))
    labels = {curve.device: curve.label for curve in evidence.content.reduction.curves}
    blocks: list[Block] = [_overview(evidence, areas, labels)]
    for device, label in labels.items():
        finding = evidence.finding(f"area.{device}.middle")
        if finding is not None:
            sentence = area_sentence(finding, label, evidence)
            anchor = finding_anchor(finding.key)
            blocks.append(Paragraph(sentence, note=note_of(finding, evidence), anchor=anchor))
    together = evidence.finding("interaction.area")
    if together is not None:
        blocks.append(
            Paragraph(
                interaction_sentence(together, evidence),
                note=note_of(together, evidence),
                anchor=finding_anchor(together.key),
            )
        )
    return Section("findings", tr("Findings: drag"), tuple(blocks))


def _overview(evidence: Evidence, areas: tuple[Finding, ...], labels: dict[str, str]) -> Drawing:
    rows, last = [], ""
    speed = evidence.scale("kt")
    for finding in areas:
        device = device_of(finding)
        at = (
            ""
            if finding.at_speed_mps is None
            else f"{number(finding.at_speed_mps / speed.size)}{NO_BREAK}{speed.symbol}"
        )
        label = labels[device] if device != last else ""
        rows.append(ForestRow(label, at, finding.value, finding.half, finding.most, device, True, finding.prior_most))
        last = device
    svg = forest_figure(evidence, "areas", rows, "ft2", tr("drag area added"))
    caption = said(
        "Drag area each device adds to the clean airplane at the entry, middle and end speed of "
        "its runs (calibrated). {caption_of_weights} Pale bar: what was believed before the "
        "runs, 95\N{NO-BREAK SPACE}%.",
        caption_of_weights=caption_of_weights(),
    )
    spoken = "; ".join(f"{labels[device_of(f)]} {evidence.show(f).full}" for f in areas if f.key.endswith(".middle"))
    return Drawing(
        "areas",
        svg,
        tr("Drag areas with intervals at middle speed: {spoken}.", spoken=spoken),
        caption,
        anchor="figure-areas",
    )


def curves(evidence: Evidence) -> Section:
    """Return drag area over speed."""
    known = evidence.content.reduction.curves
    mass = evidence.stated(evidence.content.reduction.mass_kg, "lb")
    caption = said(
        "Drag area each device adds over calibrated airspeed, in level flight at {mass}. Line: "
        "middle; darker band: central 50\N{NO-BREAK SPACE}%; paler band: central 95\N{NO-BREAK SPACE}%. A flap moves "
        "the whole polar, so its area changes with speed.",
        mass=mass,
    )
    spoken = tr(
        "Drag area over speed for {label}, each with its bands.", label=", ".join(curve.label for curve in known)
    )
    note = note_of_runs(evidence.of([key for curve in known for key in curve.runs]))
    drawing = Drawing("curves", curves_figure(evidence, known), spoken, caption, note, "figure-curves")
    return Section("curves", tr("Drag over speed"), (drawing,))


def knots(evidence: Evidence) -> Section | None:
    """Return the true drag ratio beside the ratio of knots lost, and why they differ."""
    ratio = evidence.finding("ratio.flaps_gear")
    lost = _knots_ratio(evidence)
    if ratio is None or lost is None:
        return None
    quotient, gear_keys, flap_keys = lost
    value, sd = quotient.value, quotient.standard_uncertainty
    label = tr("flaps {name}", name=evidence.content.reduction.beliefs.settings[-1].name)
    places = max(places_for(sd), 1)
    low, high = value - 1.96 * sd, value + 1.96 * sd
    rows = [
        ForestRow(tr("drag, true ratio"), "", ratio.value, ratio.half, ratio.most, "", True),
        ForestRow(tr("knots lost (not a drag)"), "", value, (value - 0.674 * sd, value + 0.674 * sd), (low, high)),
    ]
    figure = forest_figure(evidence, "knots", rows, "", tr("{label} over gear, ratio", label=label))
    quoted = said(
        "In knots lost, {label} over gear come to {low} to {high} (95\N{NO-BREAK SPACE}%; {count}, {count2}). That is "
        "not a ratio of drags.",
        label=label,
        low=number(low, places),
        high=number(high, places),
        count=count(len(gear_keys), "gear run"),
        count2=count(len(flap_keys), "flap run"),
    )
    why = said(
        "Why they differ: drag is a force, and the same force costs more knots at low speed, "
        "where dynamic pressure is small; the propeller pulls harder as the airplane slows, by "
        "an amount that depends on how its efficiency falls with speed; and runs that start "
        "slower, or are cut short before they settle, lose another number of knots from the same "
        "drag. Knots lost are shown because people quote them."
    )
    anchor = finding_anchor(ratio.key)
    blocks: tuple[Block, ...] = (
        Paragraph(ratio_sentence(ratio, label, evidence), note=note_of(ratio, evidence), anchor=anchor),
        Paragraph(quoted, note=note_of_runs(evidence.of([*gear_keys, *flap_keys]), said("Entry less last readings."))),
        Drawing("knots", figure, tr("Both ratios with their intervals."), line(caption_of_weights())),
        Paragraph(why),
    )
    return Section("knots", tr("Drag, and knots lost"), blocks)


def hand_result(evidence: Evidence, key: str, name: str) -> HandResult | None:
    """Return one strength of evidence of a run, or None."""
    return next((r for r in evidence.runs[key].report.results if r.key == name), None)


def _knots_ratio(evidence: Evidence) -> tuple[Measured, list[str], list[str]] | None:
    """Return knots lost with full flap over knots lost with the gear, and the runs of gear and of flaps."""
    last = evidence.content.reduction.beliefs.settings[-1].name
    gear, flap = evidence.finding("area.gear.middle"), evidence.finding(f"area.flaps.{last}.middle")
    if gear is None or flap is None:
        return None
    means, runs = [], []
    for keys in (gear.runs, flap.runs):
        found = {key: result.value for key in keys if (result := hand_result(evidence, key, "knots lost")) is not None}
        if not found:
            return None
        means.append(mean_over_runs(list(found.values())))
        runs.append(list(found))
    quotient = ratio_of_losses(means[1], means[0])
    return None if quotient is None else (quotient, runs[0], runs[1])
