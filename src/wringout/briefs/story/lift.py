"""Stalls and travel times."""

from __future__ import annotations

from wringout.briefs.document import Block, Drawing, Paragraph, Section, line
from wringout.briefs.evidence import Evidence, finding_anchor
from wringout.briefs.figures.areas import ForestRow, caption_of_weights, forest_figure
from wringout.briefs.figures.stalls import stall_figure
from wringout.briefs.story.notes import note_of
from wringout.briefs.words import share_sentence, stall_sentence, travel_sentence


def stalls(evidence: Evidence) -> Section | None:
    """Return stall speeds per flap setting, and where the flap travel buys lift and drag."""
    found = evidence.findings("stall.")
    lift, drag = evidence.finding("share.lift"), evidence.finding("share.drag")
    if not found:
        return None
    blocks: list[Block] = []
    settings = evidence.content.reduction.beliefs.settings
    if lift is not None and drag is not None:
        middle, full = settings[len(settings) // 2].name, settings[-1].name
        sentence = share_sentence(lift, drag, middle, full, evidence)
        blocks.append(Paragraph(sentence, note=note_of(lift, evidence), anchor=finding_anchor(lift.key)))
    svg = stall_figure(evidence, found, lift, drag)
    caption = line(
        "Left: stall speed at maximum weight and sea level (diamonds, with 50 and 95 % intervals) and the stalls as "
        "read, at the weights flown (circles). Right: how much of full flap's lift (solid) and drag (dashed) is had "
        "along the travel."
    )
    spoken = "; ".join(f"flaps {f.key.removeprefix('stall.')} {evidence.show(f).full}" for f in found)
    blocks.append(Drawing("stalls", svg, f"Stall speeds: {spoken}.", caption, anchor="figure-stalls"))
    for finding in found:
        name = finding.key.removeprefix("stall.")
        blocks.append(
            Paragraph(
                stall_sentence(finding, name, evidence),
                note=note_of(finding, evidence),
                anchor=finding_anchor(finding.key),
            )
        )
    return Section("stalls", "Stalls: lift for flap travel", tuple(blocks))


_TRAVELS = ("gear_down_time", "gear_up_time", "flap_down_time", "flap_up_time")


def travel(evidence: Evidence) -> Section | None:
    """Return travel times of gear and flaps."""
    found = [f for key in _TRAVELS if (f := evidence.finding(key)) is not None]
    if not found:
        return None
    rows = [ForestRow(f.label, "", f.value, f.half, f.most, f.key, True, f.prior_most) for f in found]
    svg = forest_figure(evidence, "travel", rows, "s", "time of travel")
    blocks: list[Block] = [
        Drawing(
            "travel",
            svg,
            "; ".join(f"{f.label} {evidence.show(f).full}" for f in found),
            line(f"{caption_of_weights()} Pale bar: what was believed before the timings, 95 %."),
            note_of(found[0], evidence, "stop-watch timings within the joint fit"),
            "figure-travel",
        )
    ]
    blocks += [Paragraph(travel_sentence(f, evidence), anchor=finding_anchor(f.key)) for f in found]
    return Section("travel", "Travel times", tuple(blocks))
